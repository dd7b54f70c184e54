"""Torque that passes through zero within the time that torque off may take: a unit that brakes, a shaft that rings.

Common practice, no source: going from driving to braking a drive turns its current round, so samples of it lie at zero
for a moment; that is no end of the torque, and what follows is no return. After the limit a return stays one.
"""

import pytest
from loggen_rig import Rig
from replay_rigs import told_with

from interlock.replay import Judgement
from interlock.verdict import Verdict

HOOD = 4.0  # the hood opens
Steps = tuple[tuple[float, bool], ...]


def torque_of(unit: str, *steps: tuple[float, bool], port: str = "torque") -> Judgement:
    """The log in which this is what the unit's torque does from the opening of the hood on."""

    def change(rig: Rig) -> None:
        name = f"{unit}.{port}"
        kept = [one for one in rig.steps[name] if not HOOD < one[0] < HOOD + 2]
        rig.steps[name] = sorted([*kept, *((HOOD + after, on) for after, on in steps)])

    return told_with("ramp_beside_sto", change)


def of(said: Judgement, unit: str, effect: str) -> Verdict:
    (one,) = [
        one
        for one in said.findings
        if (one.function, one.subject, one.effect) == ("hood_stop", unit, effect) and one.demand is not None
    ]
    return one.verdict


@pytest.mark.parametrize(
    ("zero", "lasts"), [(0.001, 0.008), (0.001, 0.2), (0.008, 0.03), (0.02, 0.008), (0.3, 0.2)], ids=str
)
def test_a_unit_that_brakes_turns_its_torque_round(zero: float, lasts: float) -> None:
    said = torque_of("drive", (zero, False), (zero + lasts, True), (0.7, False))
    assert [one.sentence for one in said.findings if one.verdict is not Verdict.PASS] == []


def test_its_torque_is_off_when_it_is_off_for_good() -> None:
    said = torque_of("drive", (0.02, False), (0.05, True), (0.7, False))
    (one,) = [
        one
        for one in said.findings
        if (one.function, one.subject, one.effect) == ("hood_stop", "drive", "torque_off")
    ]
    assert one.latency is not None and one.latency.hi is not None
    assert one.latency.lo <= 700_000_000 <= one.latency.hi


@pytest.mark.parametrize(
    "steps",
    [((0.02, False), (0.05, True), (1.4, False)), ((0.7, False), (1.2, True), (1.4, False))],
    ids=["braked too long", "back after the limit"],
)
def test_torque_after_the_limit_fails(steps: Steps) -> None:
    said = torque_of("drive", *steps)
    assert said.verdict is Verdict.FAIL
    assert of(said, "drive", "torque_off") is Verdict.FAIL


def test_torque_that_rings_down_in_time_is_no_return() -> None:
    said = torque_of("load", (0.012, False), (0.024, True), (0.036, False))
    assert of(said, "load", "stays_off") is Verdict.PASS
    assert said.verdict is Verdict.PASS


@pytest.mark.parametrize("back", [0.1, 0.3], ids=str)
def test_torque_of_a_unit_that_does_not_brake_may_not_come_back_later(back: float) -> None:
    said = torque_of("load", (0.03, False), (back, True), (back + 0.1, False))
    assert of(said, "load", "stays_off") is Verdict.FAIL


def test_a_torque_enable_line_that_comes_back_fails_within_the_limit_too() -> None:
    """No line passes through zero: off and on again within the drive's second is a return."""
    said = torque_of("drive", (0.02, False), (0.2, True), (0.69, False), port="enabled")
    assert of(said, "drive", "stays_off") is Verdict.FAIL
