"""Lone samples of a sensor against their neighbours: none decides a stop, neither for it nor against it.

By the sample bench torque is due off 100 ms after the demand, standstill 6 s after it.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from replay_tape import COVER, DRV, ESTOP, NUMBERS, SAFE, Tape, found, heard, lines, sound

from interlock.interval import Interval
from interlock.replay.lone import lone as lone_in
from interlock.replay.lone import without
from interlock.timing.settle import Window
from interlock.timing.track import NO, YES
from interlock.verdict import Verdict


def lone(signal: str, value: float, at: float) -> Tape:
    """The first sample of the signal at or after an instant shows something else."""
    tape = sound()
    when = tape.us[tape.rows(NUMBERS[signal][0], at)[0]] / 1e6
    return tape.put(signal, value, when - 1e-6, when + 1e-6)


def latencies(tape: Tape, effect: str, near: float) -> list[object]:
    return [one.latency for one in found(heard(tape), effect, near=near)]


@pytest.mark.parametrize("after", [0.5, 1.0, 2.0, 4.0])
def test_a_lone_zero_of_the_speed_is_no_standstill(after: float) -> None:
    spoilt = lone("DrvSpeed", 0.0, ESTOP.on + after)
    assert latencies(spoilt, "standstill", ESTOP.on) == latencies(sound(), "standstill", ESTOP.on)


@pytest.mark.parametrize("signal", ["DrvCurrent", "LodCurrent"])
def test_a_lone_zero_of_the_current_is_no_torque_off(signal: str) -> None:
    """While both units pull, before and after the demand."""
    for after in (-0.5, 0.003):
        spoilt = lone(signal, 0.0, COVER.on + after)
        assert latencies(spoilt, "torque_off", COVER.on) == latencies(sound(), "torque_off", COVER.on)


@pytest.mark.parametrize("after", [0.3, 1.0, 2.8])
@pytest.mark.parametrize(("signal", "unit"), [("DrvCurrent", "drive"), ("LodCurrent", "load")])
def test_a_lone_peak_of_the_current_in_a_stop_decides_nothing(signal: str, unit: str, after: float) -> None:
    """Nor is it passed over: both that torque went in time and that it stayed away are left open."""
    said = heard(lone(signal, 20.0, COVER.on + after))
    assert said.verdict is Verdict.INCONCLUSIVE
    for effect in ("torque_off", "stays_off"):
        (one,) = found(said, effect, subject=unit, near=COVER.on)
        assert one.verdict is Verdict.INCONCLUSIVE
        assert "one sample alone" in one.sentence
        assert "neighbours do not; look at the sensor" in one.sentence
    opened = [one for one in said.findings if one.verdict is Verdict.INCONCLUSIVE]
    assert len(opened) == 2  # all the rest passes as before


def rows_of(tape: Tape, at: float, count: int, ident: int = DRV) -> tuple[float, float]:
    """A window that holds that many samples of a message."""
    rows = tape.rows(ident, at)
    return tape.us[rows[0]] / 1e6 - 1e-6, tape.us[rows[count - 1]] / 1e6 + 1e-6


def neighbours(count: int) -> Tape:
    tape = sound()
    return tape.put("DrvCurrent", 20.0, *rows_of(tape, COVER.on + 1.0, count))


def apart(seconds: float) -> Tape:
    tape = lone("DrvCurrent", 20.0, COVER.on + 1.0)
    return tape.put("DrvCurrent", 20.0, *rows_of(tape, COVER.on + 1.0 + seconds, 1))


def flicker(tape: Tape) -> Tape:
    """The torque-enable line of the drive unit shows on in one sample."""
    return lines(tape, 1, *rows_of(tape, COVER.on + 1.5, 1, SAFE), units="Drv")


def never_off(tape: Tape) -> Tape:
    return lines(tape, 1, COVER.on, COVER.start, units="Drv")


def late_and_lone() -> Tape:
    """Torque went 300 ms after the demand, in many samples; one more is alone."""
    return lone("DrvCurrent", 20.0, COVER.on + 1.0).put("DrvCurrent", 20.0, COVER.on, COVER.on + 0.3)


def neighbour_lost() -> Tape:
    tape = lone("DrvCurrent", 20.0, COVER.on + 1.0)
    rows = tape.rows(DRV, COVER.on + 1.0)
    return tape.take(np.setdiff1d(np.arange(len(tape.us)), rows[1:2]))


def bit_only() -> Tape:
    """The current shows two values only, as a state does."""
    tape = lone("DrvCurrent", 20.0, COVER.on + 1.0)
    shown = tape.copy()
    at = shown.us[shown.rows(DRV, COVER.on + 1.0)[0]] / 1e6
    for lo, hi, value in [
        (-1.0, COVER.on, 20.0),
        (COVER.on, at - 1e-6, 0.0),
        (at + 1e-6, COVER.start + 0.5, 0.0),
    ]:
        shown.put("DrvCurrent", value, lo, hi)
    return shown.put("DrvCurrent", 20.0, COVER.start + 0.5)


FAILS: dict[str, Callable[[], Tape]] = {
    "two neighbours": lambda: neighbours(2),
    "five neighbours": lambda: neighbours(5),
    "twice": lambda: apart(0.5),
    "every other sample": lambda: apart(rows_of(sound(), COVER.on + 1.0, 3)[1] - COVER.on - 1.0 - 1e-5),
    "a bit flickers": lambda: flicker(sound()),
    "a bit flickers beside a peak": lambda: flicker(lone("DrvCurrent", 20.0, COVER.on + 1.0)),
    "the line was never off": lambda: never_off(lone("DrvCurrent", 20.0, COVER.on + 1.0)),
    "late besides": late_and_lone,
    "a neighbour is lost": neighbour_lost,
    "two values only": bit_only,
}


@pytest.mark.parametrize("name", FAILS)
def test_what_is_no_lone_peak_of_a_measured_value_fails_as_before(name: str) -> None:
    said = heard(FAILS[name]())
    assert said.verdict is Verdict.FAIL
    effect = "torque_off" if name == "late besides" else "stays_off"  # the peak is all that came back
    (one,) = found(said, effect, subject="drive", near=COVER.on)
    assert (one.verdict, "alone" in one.sentence) == (Verdict.FAIL, False)


@pytest.mark.parametrize(
    ("after", "count", "verdict"),
    [
        (5.0, 1, Verdict.PASS),
        (6.2, 1, Verdict.INCONCLUSIVE),
        (6.2, 2, Verdict.FAIL),
        (6.2, 9, Verdict.FAIL),
    ],
)
def test_a_peak_of_the_speed_after_the_limit_decides_only_in_two_samples(
    after: float, count: int, verdict: Verdict
) -> None:
    """Standstill is due 6 s after the demand; a peak well before that makes the stop longer, not too long."""
    tape = sound()
    tape.put("DrvSpeed", 400.0, *rows_of(tape, ESTOP.on + after, count))
    (one,) = found(heard(tape), "standstill", near=ESTOP.on)
    assert one.verdict is verdict
    assert one.latency is not None
    assert one.latency.hi is not None
    assert one.latency.hi > 5_000_000_000
    assert ("one sample alone" in one.sentence) is (verdict is Verdict.INCONCLUSIVE)


def test_the_last_sample_of_a_log_is_not_alone() -> None:
    """Nobody saw what came after it: it stays what it was."""
    tape = lone("DrvCurrent", 20.0, COVER.on + 1.0)
    rows = tape.rows(DRV, COVER.on + 1.0)
    (one,) = found(heard(tape.take(np.arange(rows[0] + 1))), "stays_off", subject="drive", near=COVER.on)
    assert one.verdict is Verdict.FAIL


def test_a_lone_sample_is_found_and_taken_out_alone() -> None:
    tape = lone("DrvCurrent", 20.0, COVER.on + 1.0)
    seen = heard(tape).observation
    track, start = seen.tracks["drive.torque"], int(tape.us.min()) * 1000
    onset = round((COVER.on + 0.5) * 1e9) - start
    window = Window(Interval(onset, onset), Interval(onset + 10**9, onset + 10**9))
    at = lone_in(seen, track, window)
    assert at is not None
    assert track.stamps_ns[at] == int(tape.us[tape.rows(DRV, COVER.on + 1.0)[0]]) * 1000 - start
    spared = without(track, at)
    assert np.flatnonzero(spared.states != track.states).tolist() == [at]
    assert (track.states[at], spared.states[at]) == (YES, NO)
    assert lone_in(seen, spared, window) is None
    message = seen.shows.messages["DRV_Actual"].model_copy(update={"on_change": True})
    messages = {**seen.shows.messages, "DRV_Actual": message}
    lasting = replace(seen, shows=seen.shows.model_copy(update={"messages": messages}))
    assert lone_in(lasting, track, window) is None  # a value sent at changes only lasts until the next


@pytest.mark.parametrize(("labels", "spike"), [(1, True), (5000, False)])
def test_a_measured_value_may_have_a_name_for_no_value_but_not_for_each(labels: int, spike: bool) -> None:
    """As the "not available" of many descriptions of messages (common practice, no source)."""
    tape = lone("DrvCurrent", 20.0, COVER.on + 1.0)
    seen = heard(tape).observation
    name = "DRV_Actual.DrvCurrent"
    named = replace(seen.trace.signals[name], labels={300.0 + k: f"not available {k}" for k in range(labels)})
    told = replace(seen, trace=replace(seen.trace, signals={**seen.trace.signals, name: named}))
    onset = round((COVER.on + 0.5) * 1e9) - int(tape.us.min()) * 1000
    window = Window(Interval(onset, onset), Interval(onset + 10**9, onset + 10**9))
    assert (lone_in(told, seen.tracks["drive.torque"], window) is not None) is spike
