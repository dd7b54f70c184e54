"""A piece cut out of a log shows by speed and bus voltage, though no counter and no beat tells of it."""

from dataclasses import replace

import numpy as np
import pytest
from replay_tape import BENCH, BUTTON, COVER, COVER_2, ESTOP, Tape, found, sound
from replay_variant import variant

import interlock.replay.judge
from interlock.bench import Bench
from interlock.interval import Interval
from interlock.replay import Judgement, judge_trace
from interlock.replay.continuity import leaps_of
from interlock.trace import Quality, QualityKind, Trace
from interlock.verdict import Verdict

S = 10**9
UNCOUNTED = (", alive: Alive, alive_modulo: 256", "")
SHOWN = {"SAFE_State", "DRV_Actual", "LOD_Actual", "CTL_Refs", "PSU_Bus"}


def without(signal: str, trace: Trace) -> Trace:
    return replace(
        trace, signals={key: one for key, one in trace.signals.items() if not key.endswith(signal)}
    )


def leaps(trace: Trace, bench: Bench = BENCH) -> list[Quality]:
    assert bench.shows is not None
    return list(leaps_of(bench, bench.shows, trace))


def as_read(bench: Bench, tape: Tape, monkeypatch: pytest.MonkeyPatch) -> Judgement:
    """What the log says if nobody asks whether its quantities leap."""
    with monkeypatch.context() as patch:
        patch.setattr(interlock.replay.judge, "leaps_of", lambda *_: ())
        return judge_trace(bench, tape.trace())


@pytest.mark.parametrize(
    "tape", [sound, lambda: sound(stamp_s=0.004), lambda: sound(rpm=1000.0)], ids=["quick", "late", "slow"]
)
def test_a_whole_log_raises_nothing(tape) -> None:  # type: ignore[no-untyped-def]
    assert leaps(tape().trace()) == []


@pytest.mark.parametrize("bench", [BENCH, variant(UNCOUNTED)], ids=["counter written anew", "no counter"])
def test_a_stop_that_a_cut_made_quick_enough_does_not_pass(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The shaft takes 4.5 s where 4 s are allowed; a second of its coast-down, of 50 whole periods, is cut out."""
    short = bench.required.effects.model_copy(
        update={"standstill": bench.required.effects.standstill.model_copy(update={"within": 4 * S})}
    )
    strict = bench.model_copy(update={"required": bench.required.model_copy(update={"effects": short})})
    tape = sound().cut_out(COVER.on + 1.0, COVER.on + 2.0)
    (read,) = found(as_read(strict, tape, monkeypatch), "standstill", near=COVER.on)
    (told,) = found(judge_trace(strict, tape.trace()), "standstill", near=COVER.on)
    (whole,) = found(judge_trace(strict, sound().trace()), "standstill", near=COVER.on)
    assert (read.verdict, told.verdict, whole.verdict) == (Verdict.PASS, Verdict.INCONCLUSIVE, Verdict.FAIL)


def test_a_restart_whose_reset_was_cut_out_is_no_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    """From the coast-down to the next run: the reset and the start are in the piece."""
    tape = sound().cut_out(COVER.on + 2.0, COVER.start + 0.5)
    bench = variant(UNCOUNTED)
    assert as_read(bench, tape, monkeypatch).verdict is Verdict.FAIL
    said = judge_trace(bench, tape.trace())
    assert not [one for one in said.findings if one.verdict is Verdict.FAIL]
    assert said.verdict is Verdict.INCONCLUSIVE


def test_the_finding_names_the_place_the_quantity_and_what_may_have_been() -> None:
    at = COVER.on + 1.0
    said = judge_trace(variant(UNCOUNTED), sound().cut_out(at, at + 1.0).trace())
    told = found(said, "data_complete")
    assert {one.subject for one in told} == SHOWN
    assert {one.verdict for one in told} == {Verdict.INCONCLUSIVE}
    for one in told:
        assert "The speed of the shaft leaps by " in one.sentence
        assert "the recording was cut or its clock was set, or the sensor failed" in one.sentence
        assert f"{at - sound().us[0] / 1e6:.1f}" in one.sentence.partition(" s after the first frame")[0]


CUTS = {
    "into the coast-down": (COVER.on - 0.3, COVER.on + 1.5),
    "the whole stop to rest": (BUTTON.on - 0.3, BUTTON.press - 0.1),
    "within a coast-down": (COVER_2.on + 1.0, COVER_2.on + 1.4),
    "rest to the next run": (COVER.press - 0.2, COVER.start + 0.8),
    "from one coast-down into the next": (COVER.on + 3.0, BUTTON.on + 0.5),
    "to a little higher in the next": (COVER.on + 3.0, BUTTON.on + 2.5),
}


@pytest.mark.parametrize(("lo", "hi"), CUTS.values(), ids=CUTS)
def test_every_message_of_the_recorder_is_in_doubt_across_the_joint(lo: float, hi: float) -> None:
    tape = sound().cut_out(lo, hi)
    joint = round((lo - tape.us[0] / 1e6) * S)
    doubts = leaps(tape.trace())
    assert {one.message for one in doubts} == SHOWN
    person = BENCH.required.restart.no_sooner_than
    for one in doubts:
        assert (one.kind, one.blinds, one.signal) == (QualityKind.TIME_RELATIVE, True, None)
        assert one.span.hi is not None
        assert one.span.lo <= joint + 5 * 10**6
        assert joint + person <= one.span.hi <= joint + person + 20 * 10**6


def test_a_bus_that_nothing_feeds_tells_by_itself() -> None:
    """Its speed left out, a piece of the discharge is missing; where the contactor is closed the voltage may leap."""
    tape = sound().cut_out(ESTOP.on + 0.4, ESTOP.on + 1.4)
    doubts = leaps(without("DrvSpeed", tape.trace()))
    assert {one.message for one in doubts} == SHOWN
    assert all(one.sentence.startswith("The voltage of the DC bus leaps by ") for one in doubts)
    fed = sound().add("BusVoltage", -120, BUTTON.on - 0.5)
    assert leaps(without("DrvSpeed", fed.trace())) == []


def test_what_is_in_doubt_already_is_not_told_twice() -> None:
    trace = sound().cut_out(COVER.on + 1.0, COVER.on + 2.0).trace()
    at = leaps(trace)[0].span.lo
    known = Quality(QualityKind.GAP, "DRV_Actual", None, Interval(at - 1, at + 1), "", True, "")
    assert leaps(replace(trace, quality=(known,))) == []
    assert leaps(replace(trace, quality=(replace(known, blinds=False),))) != []
    assert leaps(replace(trace, quality=(replace(known, signal="DrvCurrent"),))) != []
    assert leaps(replace(trace, quality=(replace(known, message="LOD_Actual"),))) != []


def test_the_sensor_that_fails_for_a_moment_is_no_cut() -> None:
    tape = (
        sound()
        .put("DrvSpeed", 0.0, COVER.on - 0.5, COVER.on - 0.42)
        .put("DrvSpeed", 0.0, BUTTON.on + 1, BUTTON.on + 1.01)
    )
    assert leaps(tape.trace()) == []


@pytest.mark.parametrize("count", [0, 1, 2, 49, 60])
def test_a_signal_of_which_little_came_tells_nothing(count: int) -> None:
    trace = sound().cut_out(COVER.on + 1.0, COVER.on + 2.0).trace()
    speed = trace.signals["DRV_Actual.DrvSpeed"]
    few = replace(speed, times_ns=speed.times_ns[:count], values=speed.values[:count])
    signals = {**trace.signals, "DRV_Actual.DrvSpeed": few}
    gap = Quality(QualityKind.GAP, None, None, Interval(0, None), "", True, "")
    for quality in ((), (gap,)):
        assert leaps(replace(trace, signals=signals, quality=quality)) == []


def test_samples_that_are_no_numbers_hide_no_leap() -> None:
    trace = sound().cut_out(COVER.on + 1.0, COVER.on + 2.0).trace()
    speed = trace.signals["DRV_Actual.DrvSpeed"]
    holed = replace(speed, values=np.where(np.arange(len(speed.values)) % 9 == 0, np.nan, speed.values))
    (told, *_) = leaps(replace(trace, signals={**trace.signals, "DRV_Actual.DrvSpeed": holed}))
    assert abs(told.span.lo - leaps(trace)[0].span.lo) <= 5 * 10**6


def test_a_load_that_brakes_until_its_torque_goes_too_is_no_leap() -> None:
    """One stop alone in the log: nothing else in it shows how hard the load brakes."""
    tape = sound().drop(None, -1.0, COVER.start - 0.5).drop(None, BUTTON.press)
    assert leaps(tape.add("DrvSpeed", -25, BUTTON.on + 0.015).trace()) == []
