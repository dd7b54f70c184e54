"""Zones: a stop is judged on its own units and ended by its own reset; other units speak neither for nor against it."""

from collections.abc import Callable

import pytest
from loggen_rig import Rig
from replay_rigs import told, told_with

from interlock.replay import Finding, Judgement
from interlock.verdict import Verdict

Change = Callable[[Rig], None]


def said_of(said: Judgement, function: str) -> list[Finding]:
    return [one for one in said.findings if one.function == function]


def worst_of(said: Judgement, function: str, effect: str) -> set[str]:
    return {one.verdict.value for one in said_of(said, function) if one.effect == effect}


def step(port: str, *more: tuple[float, bool], lo: float = 0.0, hi: float = 0.0) -> Change:
    """What a port shows from `lo` to `hi` is replaced by these changes."""

    def change(rig: Rig) -> None:
        kept = [one for one in rig.steps[port] if not lo <= one[0] < hi]
        rig.steps[port] = sorted([*kept, *more])

    return change


def together(*changes: Change) -> Change:
    def change(rig: Rig) -> None:
        for one in changes:
            one(rig)

    return change


def test_the_other_zone_goes_on_and_is_not_spoken_of() -> None:
    said = told("two_zones")
    assert {one.subject for one in said_of(said, "east_stop")} == {"east", "door_east"}
    assert {one.subject for one in said_of(said, "west_stop")} == {"west", "door_west"}
    assert {one.subject for one in said_of(said, "emergency_stop")} == {"east", "west"}


def test_a_zone_that_stops_with_the_other_one_harms_nobody() -> None:
    """More is stopped than is asked for: the west motor goes at the east door, and comes back by a person."""
    west = together(
        step("west.enabled", (5.012, False), (7.94, True), lo=4.9, hi=9.0),
        step("west.torque", (5.016, False), (9.6, True), lo=4.9, hi=9.9),
    )
    said = told_with("two_zones", west)
    assert said.verdict is Verdict.PASS, [
        one.sentence for one in said.findings if one.verdict is not Verdict.PASS
    ]


@pytest.mark.parametrize(
    ("back", "verdict"),
    [(7.95, "fail"), (8.3, "fail"), (8.7, "fail"), (8.85, "pass")],
    ids=["by the west reset", "by nobody", "while reset is pressed", "by its own reset"],
)
def test_only_the_own_reset_ends_a_stop(back: float, verdict: str) -> None:
    """The west reset is let go at 7.9 s, that of the east zone at 8.8 s."""
    said = told_with("two_zones", step("east.enabled", (back, True), lo=7.5, hi=9.0))
    assert worst_of(said, "east_stop", "stays_off") == {verdict}
    assert worst_of(said, "west_stop", "stays_off") == {"pass"}


def test_the_motion_of_the_other_zone_puts_nothing_to_the_test() -> None:
    """The east motor is never started: its stops say nothing, however the west one ran meanwhile."""

    def never(rig: Rig) -> None:
        rig.steps["east.torque"] = [(-1.0, False)]

    said = told_with("two_zones", never)
    assert said.verdict is Verdict.NOT_OBSERVED
    assert worst_of(said, "east_stop", "torque_off") == {"not_observed"}
    assert worst_of(said, "west_stop", "torque_off") == {"pass"}
    west = [one for one in said_of(said, "emergency_stop") if one.effect == "torque_off"]
    assert {one.subject: one.verdict.value for one in west} == {"east": "not_observed", "west": "pass"}


def test_a_reset_while_the_door_of_the_other_zone_stands_open_is_lawful_for_its_own_zone() -> None:
    said = told("one_reset_for_two_zones")
    lawful = [one for one in said_of(said, "right_stop") if one.effect == "reset_on_release"]
    assert [one.verdict.value for one in lawful] == [
        "pass",
        "pass",
    ]  # at 13 s, and at 21 s with the left door open


def test_the_halt_button_is_reset_with_a_door_open_but_the_zone_of_the_door_says_nothing_of_that_reset() -> (
    None
):
    """Only the right motor is enabled by it; the left one is kept off by its door and comes on by a later reset."""

    def open_door(rig: Rig) -> None:
        step("left_door.a", (29.0, False), (33.0, True))(rig)
        step("left.enabled", (34.35, True), lo=31.0, hi=35.0)(rig)
        step("left.torque", (34.8, True), lo=31.0, hi=35.0)(rig)
        step("reset.pressed", (34.0, True), (34.3, False))(rig)

    said = told_with("one_reset_for_two_zones", open_door)
    assert said.verdict is not Verdict.FAIL
    halt = [one for one in said_of(said, "halt_stop") if one.effect == "reset_on_release"]
    assert {one.subject: one.verdict.value for one in halt} == {"right": "pass", "left": "not_observed"}


@pytest.mark.parametrize(
    ("function", "unit", "limit_ms"),
    [
        ("hood_stop", "drive", 1000),
        ("hood_stop", "load", 80),
        ("emergency_stop", "drive", 900),
        ("emergency_stop", "load", 80),
    ],
)
def test_each_unit_is_held_to_its_own_limit(function: str, unit: str, limit_ms: int) -> None:
    found = [one for one in said_of(told("ramp_beside_sto"), function) if one.effect == "torque_off"]
    (limit,) = {one.limit_ns for one in found if one.subject == unit}
    assert limit == limit_ms * 1_000_000
    assert all(f"{limit_ms} ms are allowed" in one.sentence for one in found if one.subject == unit)


@pytest.mark.parametrize(("late", "verdict"), [(0.06, "pass"), (0.075, "inconclusive"), (0.1, "fail")])
def test_the_limit_of_one_unit_decides_whatever_the_other_one_may_take(late: float, verdict: str) -> None:
    off = together(
        step("load.torque", (4.004 + late, False), lo=4.0, hi=6.0),
        step("load.enabled", (4.003 + late, False), lo=4.0, hi=6.0),
    )
    said = told_with("ramp_beside_sto", off)
    load = [one for one in said_of(said, "hood_stop") if (one.subject, one.effect) == ("load", "torque_off")]
    assert [one.verdict.value for one in load] == [verdict]
    assert said.verdict.value == verdict


def test_torque_that_comes_back_within_the_limit_of_a_slower_unit_is_still_too_much() -> None:
    """The load motor, off after 30 ms, is back from 0.2 to 0.5 s: late by its own 80 ms, not by the drive's second."""
    back = step("load.torque", (4.2, True), (4.5, False), lo=4.1, hi=6.0)
    said = told_with("ramp_beside_sto", back)
    assert worst_of(said, "hood_stop", "stays_off") >= {"fail"}
    assert {one.subject for one in said.findings if one.verdict is Verdict.FAIL} == {"load"}
