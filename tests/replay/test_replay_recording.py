"""Is the recording evidence: what blinds it makes the log inconclusive, whatever else was seen."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from replay_tape import (
    BENCH,
    BUS,
    COVER,
    DRV,
    ESTOP,
    LOD,
    REFS,
    SAFE,
    Tape,
    found,
    heard,
    judged,
    lines,
    press,
    sound,
)

from interlock.interval import Interval
from interlock.replay import judge_trace
from interlock.trace import Quality, QualityKind
from interlock.verdict import Verdict

NOT_PASS = {Verdict.FAIL, Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED}


def test_a_sound_recording_is_said_to_be_complete() -> None:
    (one,) = found(heard(sound()), "data_complete")
    assert (one.function, one.subject, one.verdict) == ("recording", "all", Verdict.PASS)


def quality(
    lo: float, hi: float | None, message: str | None = "SAFE_State", *, blinds: bool = True
) -> Quality:
    span = Interval(round(lo * 1e9), None if hi is None else round(hi * 1e9))
    return Quality(QualityKind.GAP, message, None, span, "a.log:17", blinds, "No frame of it for a while.")


def with_doubts(tape: Tape, *doubts: Quality):  # type: ignore[no-untyped-def]
    return judge_trace(BENCH, replace(tape.trace(), quality=doubts))


def test_one_finding_for_each_message_in_doubt_and_none_that_says_complete() -> None:
    said = with_doubts(
        sound(), quality(1, 2), quality(3, 4), quality(5, 6, "DRV_Actual"), quality(7, 8, None)
    )
    told = {one.subject: one for one in found(said, "data_complete")}
    assert set(told) == {"SAFE_State", "DRV_Actual", "all"}
    assert {one.verdict for one in told.values()} == {Verdict.INCONCLUSIVE}
    assert told["SAFE_State"].sentence.startswith(
        "a.log:17: No frame of it for a while (and 1 more such). Log with"
    )
    assert told["DRV_Actual"].sentence.startswith("a.log:17: No frame of it for a while. Log with")


def test_a_doubt_that_does_not_blind_changes_nothing() -> None:
    said = with_doubts(sound(), quality(COVER.on, COVER.on + 1, blinds=False))
    assert said.verdict is Verdict.PASS


DOUBT = st.tuples(
    st.floats(0, 60),
    st.floats(0.001, 5),
    st.sampled_from([None, "SAFE_State", "DRV_Actual", "LOD_Actual", "CTL_Refs", "PSU_Bus"]),
)


WRONG: dict[str, Callable[[Tape], Tape]] = {
    "sound": lambda t: t,
    "slow": lambda t: t.move("DrvCurrent", 0.2, COVER.on, COVER.on + 1),
    "kept": lambda t: t.hold("SpeedRef", ESTOP.on - 0.1, ESTOP.start + 0.1),
    "no latch": lambda t: lines(t, 1, COVER.gone, COVER.press),
    "press": lambda t: lines(t, 1, COVER.press + 0.04, COVER.release),
    "reset in the demand": lambda t: lines(
        press(t, COVER.on + 1, COVER.on + 1.3), 1, COVER.on + 1.34, COVER.on + 1.6
    ),
    "pulse": lambda t: t.add("LodCurrent", 3, COVER.on + 1, COVER.on + 1.1),
    "pulse after reset": lambda t: t.add("DrvCurrent", 3, COVER.release + 0.1, COVER.release + 0.2),
    "references by themselves": lambda t: t.put("SpeedRef", 900, COVER.release + 0.04, COVER.release + 0.2),
    "supply": lambda t: t.put("MainContactorFb", 1, ESTOP.gone + 0.3, ESTOP.gone + 0.5),
    "not dead": lambda t: t.put("MainContactorFb", 1, ESTOP.on + 3.05, ESTOP.on + 3.2),
    "channels": lambda t: t.put("CoverB", 1, COVER.on, COVER.gone + 0.1),
    "bus": lambda t: t.put("BusVoltage", 70, ESTOP.on + 6, ESTOP.on + 6.3),
    "shaft": lambda t: t.add("DrvSpeed", 40, ESTOP.on + 7, ESTOP.on + 7.3),
}


@settings(max_examples=70, deadline=None)
@example([(2.0, 5.0, "LOD_Actual")], "pulse")  # seen again at once, before it was seen off
@given(st.lists(DOUBT, min_size=1, max_size=3), st.sampled_from(list(WRONG)))
def test_blinding_never_turns_what_did_not_pass_into_a_pass(
    doubts: list[tuple[float, float, str | None]], what: str
) -> None:
    """Neither the whole nor any finding of a demand that is still seen at the same place."""
    tape = WRONG[what](sound())
    clear, blind = heard(tape), with_doubts(tape, *(quality(lo, lo + by, name) for lo, by, name in doubts))
    assert blind.verdict in NOT_PASS
    passed = {
        (one.function, one.subject, one.effect, one.demand)
        for one in blind.findings
        if one.verdict is Verdict.PASS
    }
    for one in clear.findings:
        if one.verdict is Verdict.FAIL and one.demand is not None:
            assert (one.function, one.subject, one.effect, one.demand) not in passed, one.sentence


@pytest.mark.parametrize("what", [what for what in WRONG if what != "sound"])
def test_each_wrong_bench_of_the_law_above_does_fail(what: str) -> None:
    assert heard(WRONG[what](sound())).verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("ident", "name"),
    [(SAFE, "SAFE_State"), (DRV, "DRV_Actual"), (LOD, "LOD_Actual"), (REFS, "CTL_Refs"), (BUS, "PSU_Bus")],
)
@pytest.mark.parametrize(
    ("lo", "hi"),
    [
        (-1.0, 99.0),
        (20.0, 99.0),
        (-1.0, 20.0),
        (COVER.on - 0.02, COVER.on + 0.06),
        (ESTOP.on + 0.2, ESTOP.on + 0.5),
    ],
)
def test_a_message_that_is_missing_makes_the_log_inconclusive(
    ident: int, name: str, lo: float, hi: float, tmp_path: Path
) -> None:
    said = judged(sound().drop(ident, lo, hi), tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE
    assert name in {one.subject for one in found(said, "data_complete", verdict=Verdict.INCONCLUSIVE)}


@pytest.mark.parametrize(
    ("what", "spoil"),
    [
        ("the counter stands still", lambda t: t.hold("Alive", COVER.on + 1, COVER.on + 1.3)),
        ("the counter never moves", lambda t: t.put("Alive", 7)),
        (
            "SAFE_State repeats itself",
            lambda t: t.freeze(SAFE, COVER.on - 0.05, COVER.on + 0.5, counting=False),
        ),
        ("LOD_Actual repeats itself", lambda t: t.freeze(LOD, COVER.on + 0.05, COVER.on + 0.3)),
        ("DRV_Actual repeats itself", lambda t: t.freeze(DRV, COVER.on - 0.05, COVER.on + 0.3)),
        ("a current stands at zero", lambda t: t.put("DrvCurrent", 0, COVER.on + 0.05, COVER.release)),
        (
            "a current stands at its last value",
            lambda t: t.hold("LodCurrent", COVER.on + 0.1, COVER.on + 0.4),
        ),
        (
            "a current of exactly half an ampere",
            lambda t: t.put("DrvCurrent", 0.5, COVER.on + 0.01, COVER.release),
        ),
        ("a current that is always zero", lambda t: t.put("LodCurrent", 0)),
        ("a frame of zeros", lambda t: t.put("Alive", 0, 12, 12.01).put("CoverA", 0, 12, 12.01)),
        ("everything stops for a second", lambda t: t.drop(None, COVER.on + 0.01, COVER.on + 1)),
    ],
)
def test_stale_frozen_and_silent_data_are_inconclusive(what: str, spoil, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    said = judged(spoil(sound()), tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE, what


def block(tape: Tape, lo: float, hi: float) -> Tape:
    """The frames of a window twice, block after block."""
    first, twice, last = tape.rows(None, -1, lo), tape.rows(None, lo, hi), tape.rows(None, hi)
    return tape.take(np.concatenate([first, twice, twice, last]))


def again(tape: Tape, gap: float) -> Tape:
    """The whole run once more, `gap` seconds after the first began."""
    count = len(tape.us)
    tape.take(np.concatenate([np.arange(count)] * 2))
    tape.us[count:] += round(gap * 1e6)
    return tape


def step(tape: Tape, at: float, by: float) -> Tape:
    tape.us[tape.us > at * 1e6] += round(by * 1e6)
    return tape


def swap(tape: Tape, at: float, rows: int = 1) -> Tape:
    order, first = np.arange(len(tape.us)), int(tape.rows(None, at)[0])
    order[first : first + rows], order[first + rows : first + 2 * rows] = (
        order[first + rows : first + 2 * rows].copy(),
        order[first : first + rows].copy(),
    )
    return tape.take(order)


def exchanged(tape: Tape) -> Tape:
    drive, load = tape.ident == DRV, tape.ident == LOD
    tape.ident[drive], tape.ident[load] = LOD, DRV
    return tape


@pytest.mark.parametrize(
    ("what", "spoil"),
    [
        ("a block twice", lambda t: block(t, COVER.on, COVER.on + 0.1)),
        ("the run twice, stamps and all", lambda t: again(t, 0)),
        ("two runs in one file", lambda t: again(t, 70)),
        ("two runs that overlap", lambda t: again(t, 30)),
        ("two lines swapped", lambda t: swap(t, COVER.on)),
        ("two blocks swapped", lambda t: swap(t, COVER.on, 40)),
        ("the two units' frames exchanged", exchanged),
        *(
            (f"the clock set by {by:g} s in a stop", lambda t, b=by: step(t, COVER.on + 0.01, b))
            for by in (1, -1, 0.1, -0.1, 0.03, -0.005)
        ),
        *(
            (f"the clock set by {by:g} s in between", lambda t, b=by: step(t, 12.0, b))
            for by in (1, -1, 0.1, -0.1, 0.03, -0.005)
        ),
    ],
)
def test_disorder_is_inconclusive_and_never_a_fail(what: str, spoil, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    said = judged(spoil(sound()), tmp_path)
    assert said.verdict is Verdict.INCONCLUSIVE, what


@pytest.mark.parametrize("before", [0.05, 1.0])
@pytest.mark.parametrize("after", [0.2, 0.5, 1.0, 2.0, 3.5, 5.5])
def test_content_that_stands_still_while_the_counter_goes_on_never_passes(
    before: float, after: float
) -> None:
    """The demand is shown late or not at all; torque that went without one gives it away."""
    said = heard(sound().freeze(SAFE, COVER.on - before, COVER.on + after))
    assert said.verdict is Verdict.INCONCLUSIVE
    told = {one.effect for one in said.findings if one.verdict is Verdict.INCONCLUSIVE}
    assert told & {"torque_off", "explained"}


@pytest.mark.parametrize("seed", [3, 4, 5])
def test_single_frames_lost_everywhere_do_not_matter(seed: int, tmp_path: Path) -> None:
    """Up to three periods and a half between two frames of a message are what the bench allows."""
    assert judged(sound(seed, loss=0.02, stamp_s=0.004), tmp_path).verdict is Verdict.PASS


def test_three_frames_lost_in_a_row_are_too_many(tmp_path: Path) -> None:
    at = COVER.on + 1
    assert judged(sound().drop(SAFE, at, at + 0.021), tmp_path).verdict is Verdict.PASS
    assert judged(sound().drop(SAFE, at, at + 0.031), tmp_path).verdict is Verdict.INCONCLUSIVE
