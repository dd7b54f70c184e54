"""A press between two samples of its message: never a fail of a sound bench, never a pass, and no excuse elsewhere."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_tape import (
    BENCH_FILE,
    BITS,
    BUTTON,
    COVER,
    COVER_2,
    COVER_3,
    ESTOP,
    SAFE,
    Moments,
    Tape,
    found,
    lines,
    sound,
)

from interlock.bench import Bench, load_bench
from interlock.errors import BenchError
from interlock.interval import Interval
from interlock.replay import Judgement, judge_trace
from interlock.replay.unseen import gaps
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Clock, Track
from interlock.trace import Quality, QualityKind, Samples
from interlock.verdict import Verdict

MS = 1_000_000
SLOW = 0.1
"""Samples so far apart may miss a press of 50 ms (the bench file's value if it says nothing)."""
FAST = 0.02
SHORT = 0.06  # a press that falls between two samples SLOW apart
OF_BUTTON = {"reset": ("reset", "ResetPb"), "supply_on": ("supply_on", "SupplyOnPb")}


def slow_bench(folder: Path, button: str, period: float, stated: str = "") -> Bench:
    """The sample bench with the button in a message of its own, sampled once a period."""
    port, signal = OF_BUTTON[button]
    text = BENCH_FILE.read_text(encoding="utf-8")
    gap = f"{{period: {period * 1e3:g} ms, longest_gap: {2.5 * period * 1e3:g} ms}}"
    text = text.replace("  messages:\n", f"  messages:\n    PB_Slow: {gap}\n", 1)
    text = text.replace(f"{port}.pressed: SAFE_State.{signal} is 1", f"{port}.pressed: PB_Slow.{signal} is 1")
    text = text.replace("acts_on: release,", f"acts_on: release, {stated}")
    (folder / "bench.yaml").write_text(text, encoding="utf-8")
    dbc = BENCH_FILE.with_name("bench.dbc").read_text(encoding="utf-8")
    more = f'BO_ 1000 PB_Slow: 1 SAFE\n SG_ {signal} : 0|1@1+ (1,0) [0|1] "" LOG\n'
    (folder / "bench.dbc").write_text(dbc + more, encoding="utf-8")
    return load_bench(folder / "bench.yaml")


def slow_trace(tape: Tape, period: float, presses: list[tuple[float, float]], button: str) -> Samples:
    """The button's presses as its own message shows them, whose samples lie at whole periods."""
    times_s = np.arange(period, tape.us.max() / 1e6, period)
    pressed = np.zeros(len(times_s))
    for lo, hi in presses:
        pressed[(times_s >= lo) & (times_s < hi)] = 1
    times = np.rint(times_s * 1e9).astype(np.int64) - int(tape.us.min()) * 1000
    return Samples("PB_Slow", OF_BUTTON[button][1], "", times, pressed)


def slow_heard(
    tape: Tape,
    folder: Path,
    period: float,
    presses: list[tuple[float, float]],
    button: str = "reset",
    stated: str = "",
) -> Judgement:
    """The tape, with the button's presses shown by a message of its own."""
    trace = tape.trace()
    shown = slow_trace(tape, period, presses, button)
    whole = replace(
        trace,
        messages={**trace.messages, "PB_Slow": shown.times_ns},
        signals={**trace.signals, f"PB_Slow.{shown.signal}": shown},
    )
    return judge_trace(slow_bench(folder, button, period, stated), whole)


def between(instant: float, period: float, length: float) -> tuple[float, float]:
    """A press of that length near the instant that falls between two samples, or as much of it as fits."""
    start = np.floor(instant / period) * period + 0.01 * period
    return start, start + length


def pressed(stop: Moments, period: float, length: float = SHORT) -> tuple[float, float]:
    return between(stop.press, period, length)


FIRST = (1.0, 2.0)  # before the first stop; the log's own first reset lies here


def usual(*without: Moments) -> list[tuple[float, float]]:
    """The presses of the sound log, each long enough to be seen, but for those of these stops."""
    every = [COVER, BUTTON, COVER_2, ESTOP, *sound().stops[4:]]
    return [FIRST, *((one.press, one.release) for one in every if one not in without)]


def calm() -> Tape:
    """A sound log whose lines come on so long after each reset that slow samples show their order."""
    tape = sound()
    for one in tape.stops:
        lines(tape, 0, one.release, one.release + 0.35)
    return tape


def failed(said: Judgement) -> list[str]:
    return [one.sentence for one in said.findings if one.verdict is Verdict.FAIL]


@pytest.mark.parametrize("period", [FAST, SLOW, 0.2])
def test_a_press_that_is_seen_is_judged_as_ever(period: float, tmp_path: Path) -> None:
    said = slow_heard(calm(), tmp_path, period, usual())
    assert [one.sentence for one in said.findings if one.verdict is not Verdict.PASS] == []


@pytest.mark.parametrize("stop", [COVER, BUTTON, ESTOP, COVER_3], ids=["cover", "button", "estop", "last"])
@pytest.mark.parametrize("period", [SLOW, 0.2])
def test_a_press_between_two_samples_is_no_fail_and_no_pass(
    stop: Moments, period: float, tmp_path: Path
) -> None:
    said = slow_heard(sound(), tmp_path, period, [*usual(stop), pressed(stop, period)])
    assert said.verdict is Verdict.INCONCLUSIVE
    assert failed(said) == []
    for effect in ("stays_off", "reset_on_release"):
        (one,) = found(said, effect, subject="drive", near=stop.on)
        assert one.verdict is Verdict.INCONCLUSIVE
        assert f"may have been pressed between two samples that lie {period * 1e3:g} ms apart" in one.sentence
        assert "log its message more often than every 50 ms" in one.sentence


def test_only_the_stop_whose_press_is_missing_is_in_doubt(tmp_path: Path) -> None:
    said = slow_heard(calm(), tmp_path, SLOW, [*usual(BUTTON), pressed(BUTTON, SLOW)])
    doubtful = {one.demand for one in said.findings if one.verdict is not Verdict.PASS}
    assert len(doubtful) == 1
    assert all(one.verdict is Verdict.PASS for one in found(said, "stays_off", near=COVER.on))
    assert all(one.verdict is Verdict.PASS for one in found(said, "stays_off", near=COVER_2.on))


@pytest.mark.parametrize("period", [0.01, FAST, 0.045])
def test_where_each_press_leaves_a_trace_a_restart_without_one_fails(period: float, tmp_path: Path) -> None:
    said = slow_heard(sound(), tmp_path, period, usual(COVER))
    assert said.verdict is Verdict.FAIL
    (one,) = found(said, "stays_off", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL
    assert "before the lawful reset" in one.sentence


@pytest.mark.parametrize(
    ("stated", "period", "verdict"),
    [
        ("shortest_press: 150 ms,", SLOW, Verdict.FAIL),  # nobody presses that shortly here
        ("shortest_press: 150 ms,", 0.2, Verdict.INCONCLUSIVE),
        ("shortest_press: 15 ms,", FAST, Verdict.INCONCLUSIVE),  # a button that is only tapped
        ("shortest_press: 30 ms,", FAST, Verdict.FAIL),
    ],
)
def test_the_bench_may_say_how_short_a_press_is(
    stated: str, period: float, verdict: Verdict, tmp_path: Path
) -> None:
    assert slow_heard(sound(), tmp_path, period, usual(COVER), stated=stated).verdict is verdict


@pytest.mark.parametrize(
    "stated", ["shortest_press: 0 ms,", "shortest_press: 5 V,", "shortest_press: short,"]
)
def test_no_press_is_shorter_than_any_time(stated: str, tmp_path: Path) -> None:
    with pytest.raises(BenchError, match=r"bench\.yaml:\d+:\d+: .*shortest_press"):
        slow_bench(tmp_path, "reset", SLOW, stated)


@pytest.mark.parametrize("late", [0.0, 0.015, 0.03])
def test_nobody_presses_so_soon_after_the_demand_has_gone(late: float, tmp_path: Path) -> None:
    """The line comes back with the demand's end: in this time no person presses and lets go."""
    tape = lines(sound(), 1, COVER.gone + late, COVER.release + 0.1)
    said = slow_heard(tape, tmp_path, 0.4, usual(COVER))
    assert said.verdict is Verdict.FAIL
    (one,) = found(said, "stays_off", subject="load", near=COVER.on)
    assert one.verdict is Verdict.FAIL


@pytest.mark.parametrize(("wait", "verdict"), [(0.1, Verdict.FAIL), (0.6, Verdict.INCONCLUSIVE)])
def test_torque_comes_no_sooner_than_a_person_resets_and_starts(
    wait: float, verdict: Verdict, tmp_path: Path
) -> None:
    tape = lines(sound(), 1, COVER.gone + wait, COVER.release + 0.1)
    tape.put("DrvCurrent", 4.0, COVER.gone + wait + 0.02, COVER.start + 0.05)
    assert slow_heard(tape, tmp_path, 0.4, usual(COVER)).verdict is verdict


def test_what_came_back_before_the_demand_went_has_no_excuse(tmp_path: Path) -> None:
    tape = lines(sound(), 1, COVER.gone - 0.5, COVER.gone - 0.1)
    said = slow_heard(tape, tmp_path, SLOW, [*usual(COVER), pressed(COVER, SLOW)])
    (one,) = found(said, "stays_off", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL


def test_no_press_lies_within_another_demand(tmp_path: Path) -> None:
    """The button is held from before the cover closes until after the line is back: nothing could be reset."""
    tape = sound().put("TorqueOffPb", 0, COVER.gone - 0.5, COVER.release + 0.4)
    assert slow_heard(tape, tmp_path, SLOW, usual(COVER)).verdict is Verdict.FAIL


def test_a_press_that_acts_before_it_is_let_go_is_told_as_such(tmp_path: Path) -> None:
    tape = lines(sound(), 1, COVER.press + 0.25, COVER.release + 0.1)
    long = (COVER.press, COVER.release + 0.6)
    said = slow_heard(tape, tmp_path, SLOW, [*usual(COVER), long])
    (one,) = found(said, "reset_on_release", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL
    assert "while the reset button was still pressed" in one.sentence


def test_a_reset_within_the_demand_does_not_bar_one_that_is_not_seen(tmp_path: Path) -> None:
    inside = (COVER.on + 0.5, COVER.on + 1.0)
    slow = slow_heard(sound(), tmp_path, SLOW, [*usual(COVER), inside, pressed(COVER, SLOW)])
    assert (slow.verdict, failed(slow)) == (Verdict.INCONCLUSIVE, [])
    fast = slow_heard(sound(), tmp_path, FAST, [*usual(COVER), inside])
    (one,) = found(fast, "reset_on_release", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL
    assert "pressed or released while a demand was present" in one.sentence


def test_one_sample_says_too_little_of_its_order(tmp_path: Path) -> None:
    """The press is seen once, at the sample next to the demand's end: whether it began after it nobody can tell."""
    at = np.floor(COVER.gone / SLOW) * SLOW + SLOW
    tape = lines(sound(), 1, at + 0.05, COVER.release + 0.1)
    said = slow_heard(tape, tmp_path, SLOW, [*usual(COVER), (at - 0.01, at + 0.03)])
    assert said.verdict is Verdict.INCONCLUSIVE
    assert failed(said) == []
    (one,) = found(said, "stays_off", subject="drive", near=COVER.on)
    assert re.search("one sample only shows the reset pressed.*press it longer", one.sentence)


@given(
    steps=st.lists(st.integers(1, 120), min_size=2, max_size=30),
    delays=st.lists(st.integers(0, 4), min_size=31, max_size=31),
    start=st.integers(0, 2000),
    length=st.integers(50, 300),
)
def test_no_press_of_that_length_escapes(
    steps: list[int], delays: list[int], start: int, length: int
) -> None:
    """Whenever the samples were taken, up to 4 ms before their stamps: one shows the press, or a gap holds it."""
    taken = np.cumsum([0, *steps])
    stamps = np.maximum.accumulate(taken + np.array(delays[: len(taken)]))
    shows = (taken >= start) & (taken < start + length)
    within = bool(taken[0] < start and start + length <= taken[-1])
    track = Track("b", "M", stamps * MS, np.where(shows, YES, NO).astype(np.int8), Clock(0, 4 * MS, 0))
    holding = [
        one
        for one in gaps(track, 50 * MS)
        if one.when.lo <= start * MS and one.when.hi is not None and one.when.hi >= (start + length) * MS
    ]
    assert not within or bool(shows.any()) or holding


@given(st.lists(st.sampled_from([YES, NO, UNKNOWN, BLIND]), min_size=2, max_size=20), st.integers(10, 80))
def test_a_gap_lies_between_samples_that_show_no_press_and_hides_no_missing_evidence(
    states: list[int], apart: int
) -> None:
    track = Track("b", "M", np.arange(len(states)) * apart * MS, np.array(states, np.int8), Clock(0, 0, 0))
    for one in gaps(track, 50 * MS):
        assert (states[one.last_old], states[one.first_new]) == (NO, NO)
        assert set(states[one.last_old + 1 : one.first_new]) <= {UNKNOWN}
        assert (one.first_new - one.last_old) * apart >= 50


def test_an_unknown_offset_of_the_clock_makes_no_gap_longer() -> None:
    """Both samples are shifted alike by it."""
    states = np.zeros(100, np.int8)
    track = Track("b", "M", np.arange(100) * 10 * MS, states, Clock(0, 3 * MS, 200 * MS))
    assert gaps(track, 50 * MS) == []
    assert len(gaps(track, 13 * MS)) == 99


def supplied(*, seen: bool) -> list[tuple[float, float]]:
    """Presses of supply-on: at power-up, while latched, and anew after the release of the emergency stop."""
    shown = sound()
    rows = shown.rows(SAFE)
    on = np.flatnonzero(shown.data[rows, 0] >> BITS["SupplyOnPb"][1] & 1)
    pushes = np.split(shown.us[rows][on] / 1e6, np.flatnonzero(np.diff(on) > 1) + 1)
    every = [(float(one[0]) - 0.01, float(one[-1]) + SLOW) for one in pushes]
    return every if seen else [one for one in every if not ESTOP.gone < one[0] < ESTOP.press]


def test_supply_on_that_is_seen_is_judged_as_ever(tmp_path: Path) -> None:
    said = slow_heard(sound(), tmp_path, FAST, supplied(seen=True), "supply_on")
    assert failed(said) == []
    assert len(supplied(seen=True)) == len(supplied(seen=False)) + 1


@pytest.mark.parametrize(("period", "verdict"), [(FAST, Verdict.FAIL), (SLOW, Verdict.INCONCLUSIVE)])
def test_supply_on_may_have_been_pressed_between_two_samples(
    period: float, verdict: Verdict, tmp_path: Path
) -> None:
    said = slow_heard(sound(), tmp_path, period, supplied(seen=False), "supply_on")
    assert said.verdict is verdict
    (one,) = found(said, "supply_stays_off", near=ESTOP.on)
    assert one.verdict is verdict
    assert ("supply-on may have been pressed between two samples" in one.sentence) == (period == SLOW)
    assert {one.verdict for one in found(said, "contactor_open", near=ESTOP.on)} == {verdict}


def test_a_supply_that_came_while_the_demand_was_latched_has_no_excuse(tmp_path: Path) -> None:
    tape = sound().put("MainContactorFb", 1, ESTOP.gone - 0.6, ESTOP.press)
    said = slow_heard(tape, tmp_path, 0.2, supplied(seen=False), "supply_on")
    assert {one.verdict for one in found(said, "contactor_open", near=ESTOP.on)} == {Verdict.FAIL}


@pytest.mark.parametrize("button", ["reset", "supply_on"])
@pytest.mark.parametrize(
    ("before", "after"), [(4.0, 3.0), (0.5, 3.0), (30.0, 3.0), (4.0, None), (30.0, None)]
)
def test_a_button_out_of_sight_ends_nothing_for_sure(
    button: str, before: float, after: float | None, tmp_path: Path
) -> None:
    """Its message is missing from long before the emergency stop's end until after the press, or to the log's end."""
    tape = sound()
    start, end = ESTOP.gone - before, None if after is None else ESTOP.gone + after
    trace, presses = tape.trace(), supplied(seen=True) if button == "supply_on" else usual()
    shown = slow_trace(tape, FAST, presses, button)
    first = int(tape.us.min()) * 1000
    span = Interval(round(start * 1e9) - first, None if end is None else round(end * 1e9) - first)
    kept = (shown.times_ns <= span.lo) | (shown.times_ns >= (2**62 if span.hi is None else span.hi))
    gap = Quality(QualityKind.GAP, "PB_Slow", None, span, "here", blinds=True, sentence="No frame.")
    times = shown.times_ns[kept]
    whole = replace(
        trace,
        messages={**trace.messages, "PB_Slow": times},
        signals={
            **trace.signals,
            f"PB_Slow.{shown.signal}": replace(shown, times_ns=times, values=shown.values[kept]),
        },
        quality=(gap,),
    )
    said = judge_trace(slow_bench(tmp_path, button, FAST), whole)
    assert failed(said) == []
    assert said.verdict is Verdict.INCONCLUSIVE
    effect = "supply_stays_off" if button == "supply_on" else "stays_off"
    assert {one.verdict for one in found(said, effect, near=ESTOP.on)} == {Verdict.INCONCLUSIVE}


def test_a_line_that_came_back_out_of_sight_is_not_laid_on_a_reset_within_the_demand(tmp_path: Path) -> None:
    """One press within the demand, one after it; whether the line came between them the log does not show."""
    tape = sound()
    shown = slow_trace(tape, FAST, [*usual(), (COVER.on + 0.5, COVER.on + 1.0)], "reset")
    trace, first = tape.trace(), int(tape.us.min()) * 1000
    span = Interval(round((COVER.gone - 0.3) * 1e9) - first, round((COVER.release + 0.3) * 1e9) - first)
    gap = Quality(QualityKind.GAP, "SAFE_State", None, span, "here", blinds=True, sentence="No frame.")
    whole = replace(
        trace,
        messages={**trace.messages, "PB_Slow": shown.times_ns},
        signals={**trace.signals, f"PB_Slow.{shown.signal}": shown},
        quality=(gap,),
    )
    said = judge_trace(slow_bench(tmp_path, "reset", FAST), whole)
    assert failed(said) == []
    (one,) = found(said, "reset_on_release", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "whether that was before or after a reset cannot be said" in one.sentence
