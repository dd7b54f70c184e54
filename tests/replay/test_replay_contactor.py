"""Contactor, bus and standstill: what must follow a stop more slowly, and stay."""

from collections.abc import Callable

import pytest
from replay_tape import COVER, ESTOP, Case, Tape, found, heard, sound

from interlock.verdict import Verdict

FB, E = "MainContactorFb", "emergency_stop"


def main(words: str) -> dict[str, str]:
    return {"function": E, "subject": "contactor", "effect": "contactor_open", "words": words}


def bus(words: str) -> dict[str, str]:
    return {"function": E, "subject": "bus", "effect": "bus_discharged", "words": words}


def shaft(words: str) -> dict[str, str]:
    return {"function": E, "subject": "shaft", "effect": "standstill", "words": words}


@pytest.mark.parametrize(
    "case",
    [
        Case("50 ms later", lambda t: t.move(FB, 0.04, ESTOP.on, ESTOP.on + 1), "pass"),
        Case(
            "at the limit",
            lambda t: t.move(FB, 0.07, ESTOP.on, ESTOP.on + 1),
            "inconclusive",
            **main("too coarse"),
        ),
        Case(
            "0.2 s later",
            lambda t: t.move(FB, 0.2, ESTOP.on, ESTOP.on + 1),
            "fail",
            **main("open for good only .* after the demand; 100 ms"),
        ),
        Case(
            "welded",
            lambda t: t.put(FB, 1, ESTOP.on, 99),
            "fail",
            **main("not seen that the main contactor was open"),
        ),
        Case(
            "closed again while latched, nobody near",
            lambda t: t.put(FB, 1, ESTOP.on + 1, ESTOP.on + 1.2),
            "fail",
            **main("for good only"),
        ),
        Case(
            "opened only at the release",
            lambda t: t.put(FB, 1, ESTOP.on, ESTOP.gone + 0.1),
            "fail",
            **main("for good only"),
        ),
    ],
    ids=str,
)
def test_the_contactor(case: Case) -> None:
    case.check()


def held(volts: float, lo: float, hi: float) -> Callable[[Tape], Tape]:
    return lambda tape: tape.put("BusVoltage", volts, ESTOP.on + lo, ESTOP.on + hi)


@pytest.mark.parametrize(
    "case",
    [
        Case("slow, but in time", held(80, 0.1, 4.8), "pass"),
        Case("at the limit", held(80, 0.1, 5.025), "inconclusive", **bus("too coarse")),
        Case(
            "too slow",
            held(80, 0.1, 5.2),
            "fail",
            **bus(r"at or below 60 V for good only .* after the opening of the main contactor; 5000 ms"),
        ),
        Case("kept", held(96, 0.1, 7.5), "fail", **bus("not seen that the DC bus was at or below 60 V")),
        Case("at 61 V for ever", held(61, 0.5, 7.5), "fail", **bus("for a time only")),
        Case(
            "at 60 V, which an instrument cannot tell from 60.1",
            held(60, 0.5, 7.5),
            "inconclusive",
            **bus("cannot be said"),
        ),
        Case("at 59.8 V", held(59.8, 0.5, 7.5), "pass"),
        Case("back above it for a while", held(70, 6, 6.3), "fail", **bus("for good only")),
        Case("back at the release of the emergency stop", held(96, 6.6, 7.0), "fail", **bus("for good only")),
        Case("back once, but still in time", held(70, 2, 2.3), "pass"),
    ],
    ids=str,
)
def test_the_bus(case: Case) -> None:
    case.check()


def test_the_bus_is_counted_from_the_opening_of_the_contactor() -> None:
    tape = sound().move(FB, 0.06, ESTOP.on, ESTOP.on + 1)
    (early,) = found(heard(sound()), "bus_discharged")
    (late,) = found(heard(tape), "bus_discharged")
    assert early.latency is not None
    assert late.latency is not None
    assert 40_000_000 < early.latency.lo - late.latency.lo < 80_000_000


def test_a_contactor_that_never_opens_leaves_the_bus_counted_from_the_demand() -> None:
    said = heard(sound().put(FB, 1, ESTOP.on, 99).put("BusVoltage", 96, ESTOP.on, ESTOP.on + 7.5))
    (one,) = found(said, "bus_discharged", verdict=Verdict.FAIL)
    assert "after the demand" in one.sentence


def test_an_open_contactor_and_a_flat_bus_exercise_nothing() -> None:
    said = heard(sound().put(FB, 0).put("BusVoltage", 0))
    assert said.verdict is Verdict.NOT_OBSERVED
    unseen = {one.effect for one in said.findings if one.verdict is Verdict.NOT_OBSERVED}
    assert unseen == {"contactor_open", "bus_discharged"}


def turning(by: float, lo: float, hi: float) -> Callable[[Tape], Tape]:
    return lambda tape: tape.add("DrvSpeed", by, ESTOP.on + lo, ESTOP.on + hi)


@pytest.mark.parametrize(
    "case",
    [
        Case("coasting longer, in time", turning(40, 4, 5.8), "pass"),
        Case("at the limit", turning(40, 4, 6.0), "inconclusive", **shaft("too coarse")),
        Case(
            "too long",
            turning(40, 4, 6.4),
            "fail",
            **shaft("stood still .* for good only .* 6000 ms are allowed"),
        ),
        Case("too long, backwards", turning(-40, 4.6, 6.4), "fail", **shaft("for good only")),
        Case("creeping", turning(7, 4, 9.8), "fail", **shaft("not seen that the shaft stood still")),
        Case(
            "creeping within the uncertainty", turning(4.5, 5, 9.4), "inconclusive", **shaft("cannot be said")
        ),
        Case("turning again later", turning(40, 7, 7.3), "fail", **shaft("for good only")),
        Case(
            "turning again in time, torque or not",
            turning(40, 5.2, 5.5),
            "inconclusive",
            **shaft("turned again at .* though no torque was seen"),
        ),
        Case("a tick in time", turning(40, 5.2, 5.23), "pass"),
    ],
    ids=str,
)
def test_the_shaft(case: Case) -> None:
    case.check()


def test_a_start_before_standstill_leaves_the_coast_down_open() -> None:
    """Reset and start while the shaft still turns: nobody saw it stop."""
    tape = sound().add("DrvSpeed", 40, COVER.on + 4, COVER.start + 0.3)
    (one,) = found(heard(tape), "standstill", near=COVER.on)
    assert one.verdict is Verdict.INCONCLUSIVE
    assert "the bench was used again" in one.sentence


def test_a_shaft_that_stood_still_does_not_exercise_the_rule() -> None:
    said = heard(sound().put("DrvSpeed", 0))
    assert said.verdict is Verdict.NOT_OBSERVED
    assert {one.effect for one in said.findings if one.verdict is not Verdict.PASS} == {"standstill"}


def test_the_contactor_may_stay_closed_in_a_stop_that_does_not_ask_for_it() -> None:
    said = heard(sound())
    assert {one.function for one in found(said, "contactor_open")} == {E}
