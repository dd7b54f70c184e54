"""Lone samples of a sensor against their neighbours: none makes a stop look shorter than it was."""

import pytest
from replay_tape import COVER, ESTOP, NUMBERS, Tape, found, heard, sound

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
def test_a_lone_peak_of_the_current_in_a_stop_is_never_passed_over(after: float) -> None:
    said = heard(lone("DrvCurrent", 20.0, COVER.on + after))
    assert said.verdict in {Verdict.INCONCLUSIVE, Verdict.FAIL}


def test_a_lone_peak_of_the_speed_after_the_limit_is_never_passed_over() -> None:
    """Standstill is due 6 s after the demand; a peak well before that makes the stop longer, not too long."""
    (early,) = found(heard(lone("DrvSpeed", 400.0, ESTOP.on + 5.0)), "standstill", near=ESTOP.on)
    (late,) = found(heard(lone("DrvSpeed", 400.0, ESTOP.on + 6.2)), "standstill", near=ESTOP.on)
    assert early.latency is not None
    assert (early.verdict, early.latency.hi is not None and early.latency.hi > 5_000_000_000) == (
        Verdict.PASS,
        True,
    )
    assert late.verdict is not Verdict.PASS
