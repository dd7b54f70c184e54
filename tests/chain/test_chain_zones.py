"""Zones, limits of single units, own resets, and sensors that take their time. Invented benches.

What is a lawful reset: ISO 13849-1:2015, 5.2.2; own resets and zones are common practice, no source.
"""

import pytest
from chain_shapes import judged, not_passed, of, shape

from interlock.chain.compile import compile_bench
from interlock.chain.observers import observers
from interlock.chain.reference import holds, start
from interlock.chain.requirement import Requirement
from interlock.verdict import Verdict

EAST_AND_WEST = ("units: [east]", "units: [east, west]")


def requirement(name: str, *changes: tuple[str, str]) -> Requirement:
    bench = shape(name, *changes)
    return Requirement(bench, compile_bench(bench))


def test_a_door_need_not_stop_the_other_zone_and_the_check_knows_when_it_must() -> None:
    assert not_passed(judged("two_zones")) == {}
    failed = judged("two_zones", EAST_AND_WEST)
    assert of(failed, "torque_off", "east_stop", "west").verdict is Verdict.FAIL
    assert of(failed, "torque_off", "east_stop", "east").verdict is Verdict.PASS


def test_each_unit_of_a_function_is_judged_and_no_other() -> None:
    result = judged("two_zones")
    judged_units = {(one.function, one.subject) for one in result.properties if one.id == "torque_off"}
    assert judged_units == {
        ("east_stop", "east"),
        ("west_stop", "west"),
        ("emergency_stop", "east"),
        ("emergency_stop", "west"),
    }


@pytest.mark.parametrize("unit", ["east", "west"])
def test_a_zone_stays_off_until_its_own_reset(unit: str) -> None:
    other = {"east": "west", "west": "east"}[unit]
    relay = {"east": "k1", "west": "k2"}[unit]
    result = judged(
        "two_zones", (f"{relay}.reset: reset_{unit}.pressed", f"{relay}.reset: reset_{other}.pressed")
    )
    assert {one.function for one in result.properties if one.verdict is Verdict.FAIL} == {f"{unit}_stop"}


def test_the_emergency_stop_is_not_reset_by_the_button_of_a_zone() -> None:
    result = judged("two_zones", ("k3.reset: reset.pressed", "k3.reset: reset_east.pressed"))
    assert of(result, "stays_off", "emergency_stop").verdict is Verdict.FAIL


def test_with_one_reset_for_all_a_zone_is_reset_while_the_door_of_the_other_is_open() -> None:
    """What bars a reset are the stops that bar all units of the function, not those of another zone."""
    required = requirement("one_reset_for_two_zones")
    assert required.bars("left_stop") == {"left_stop", "halt_stop"}
    assert required.bars("halt_stop") == {"halt_stop"}
    assert not_passed(judged("one_reset_for_two_zones")) == {}


def test_a_reset_under_the_demand_of_its_own_zone_still_fails() -> None:
    """The left relay sees its door only while the reset is not pressed."""
    wrong = (
        ("k1.channel_a: left_door.a and halt.a", "k1.channel_a: (left_door.a or reset.pressed) and halt.a"),
        ("k1.channel_b: left_door.a and halt.b", "k1.channel_b: (left_door.a or reset.pressed) and halt.b"),
    )
    failed = judged("one_reset_for_two_zones", *wrong)
    assert {"torque_off"} <= set(not_passed(failed))
    assert all(one.function != "right_stop" for one in failed.properties if one.verdict is Verdict.FAIL)


def test_functions_that_are_reset_alike_share_their_memory() -> None:
    """Else the search would remember the same thing several times over."""
    names = [one.field.name for one in observers(requirement("stop_category_1"))]
    assert [name for name in names if name.startswith("press")] == ["press of reset"]
    assert "latch of any function" in names
    own = [
        one.field.name for one in observers(requirement("two_zones")) if one.field.name.startswith("press")
    ]
    assert len(own) == len(set(own)) == 3


# Limits of single units: the greatest delay that passes, and one millisecond more (IEC 60204-1, 9.2: the limit itself
# is the risk assessment's).


@pytest.mark.parametrize(("delay", "verdict"), [("80 ms", Verdict.PASS), ("81 ms", Verdict.FAIL)])
def test_the_load_has_the_common_limit(delay: str, verdict: Verdict) -> None:
    result = judged("ramp_beside_sto", ("off_delay: 30 ms", f"off_delay: {delay}"))
    assert of(result, "torque_off", "hood_stop", "load").verdict is verdict


@pytest.mark.parametrize(
    ("ramp", "hood", "emergency"),
    [
        ("900 ms", Verdict.PASS, Verdict.PASS),
        ("901 ms", Verdict.PASS, Verdict.FAIL),
        ("1000 ms", Verdict.PASS, Verdict.FAIL),
        ("1001 ms", Verdict.FAIL, Verdict.FAIL),
    ],
)
def test_a_function_s_own_limit_goes_before_that_of_the_unit(
    ramp: str, hood: Verdict, emergency: Verdict
) -> None:
    result = judged("ramp_beside_sto", ("stop_time: 800 ms", f"stop_time: {ramp}"))
    assert of(result, "torque_off", "hood_stop", "drive").verdict is hood
    assert of(result, "torque_off", "emergency_stop", "drive").verdict is emergency


def test_a_stop_is_carried_through_within_the_limit_of_the_function_that_asked_for_it() -> None:
    """Halt may take 1 s, the door 80 ms: a ramp of 700 ms, overtaken by a reset, is judged by the halt's limit."""
    assert not_passed(judged("ramp_by_timer")) == {}
    slow = judged("ramp_by_timer", ("limits: {drive: 1 s}", "limits: {drive: 600 ms}"))
    assert {"torque_off", "stop_completes"} <= set(not_passed(slow))


def test_units_of_different_limits_are_told_apart() -> None:
    """The load stays permitted for 90 ms: too long for it, though not for the drive."""
    result = judged("ramp_beside_sto", ("off_delay: 30 ms", "off_delay: 90 ms"))
    bad = {one.subject for one in result.properties if one.id == "stays_off" and one.verdict is Verdict.FAIL}
    assert bad == {"load"}


# A sensor that takes its time: until its contact tells of the demand, nobody can be asked to wait with the reset.


def test_a_reset_within_the_sensor_s_time_of_response_is_no_reset_under_demand() -> None:
    assert not_passed(judged("flow_switch")) == {}


def test_once_the_contact_has_opened_the_reset_is_barred() -> None:
    wrong = (
        ("k1.channel_a: water.a and estop.a", "k1.channel_a: (water.a or reset.pressed) and estop.a"),
        ("k1.channel_b: water.a and estop.b", "k1.channel_b: (water.a or reset.pressed) and estop.b"),
    )
    assert {"torque_off"} <= set(not_passed(judged("flow_switch", *wrong)))


def test_a_demand_that_ends_late_bars_the_reset_to_its_end() -> None:
    """Cooling down is a late reaction too, but one that ends the demand: the contact is open all the time."""
    cooling = (
        (
            "    states: {flows: water flows, slack: water has just stopped, dry: no water}",
            "    states: {flows: cool, slack: cooling down, dry: too hot}",
        ),
        ("    outputs: {a: flows or slack, dry: slack or dry}", "    outputs: {a: flows, dry: slack or dry}"),
        ("      - {act: shut, from: flows, to: slack, ", "      - {act: shut, from: flows, to: dry, "),
        (
            "      - {after: response, from: slack, to: dry}",
            "      - {after: response, from: slack, to: flows}",
        ),
        (
            "      - {act: turn_on, from: [slack, dry], to: flows, takes: 1 s,",
            "      - {act: turn_on, from: dry, to: slack, takes: 1 s,",
        ),
    )
    assert not_passed(judged("flow_switch", *cooling)) == {}
    assert shown("slack", *cooling)


def shown(state: str, *changes: tuple[str, str]) -> bool:
    """The water's demand counts against a reset in this state of the switch."""
    required = requirement("flow_switch", *changes)
    now = {**start(required.compiled.chain), "water": state}
    return holds(required.shown_demand("water_stop"), now, now)


def test_what_the_contact_does_not_tell_yet_bars_no_reset() -> None:
    assert [shown(state) for state in ("flows", "slack", "dry")] == [False, False, True]
    at_once = ("outputs: {a: flows or slack, dry: slack or dry}", "outputs: {a: flows, dry: slack or dry}")
    assert [shown(state, at_once) for state in ("flows", "slack", "dry")] == [False, True, True]
    no_contact = ("outputs: {a: flows or slack, dry: slack or dry}", "outputs: {dry: slack or dry}")
    wiring = [(f"k1.channel_{one}: water.a", f"k1.channel_{one}: not water.dry") for one in "ab"]
    blank = (
        ("        outputs: {a: always}", "        outputs: {dry: never}"),
        ("        outputs: {a: never}", "        outputs: {dry: always}"),
    )
    assert shown("slack", no_contact, *wiring, *blank)


def test_the_limit_counts_from_the_demand_not_from_the_contact() -> None:
    late = judged("flow_switch", ("response: 300 ms", "response: 501 ms"))
    assert of(late, "torque_off", "water_stop").verdict is Verdict.FAIL


# What is meant to start a unit: by the declaration of its kind, not by anything that moves it.


def test_acknowledging_a_trip_is_no_start_whoever_does_it() -> None:
    """By the reset button, which is wired to the drive, or at the drive's panel (common practice, no source)."""
    assert not_passed(judged("drive_that_trips")) == {}
    remembers = ("(go.pressed or drive.torque)", "(go.pressed or k2.out_a)")
    by_button = of(judged("drive_that_trips", remembers), "start_by_person")
    assert (by_button.verdict, by_button.acts[-1].words) == (Verdict.FAIL, "press the reset button")
    panel = judged("drive_that_trips", remembers, ("  drive.acknowledge: reset.pressed\n", ""))
    at_panel = of(panel, "start_by_person")
    assert (at_panel.verdict, at_panel.acts[-1].words) == (
        Verdict.FAIL,
        "acknowledge the trip of the pump motor at its panel",
    )


RUN_UP = (
    (
        "    outputs: {torque: fed}",
        "    delays: [run_up]\n    outputs: {torque: fed}",
    ),
    (
        "    states: {still: without current, fed: makes torque}",
        "    states: {still: without current, run_up: magnetises, fed: makes torque}",
    ),
    (
        "      - {when: feed, from: still, to: fed}\n      - {when: not feed, from: fed, to: still}",
        '      - {act: start, when: feed, from: still, to: run_up, words: "start the {name}"}\n'
        "      - {after: run_up, from: run_up, to: fed}\n      - {when: not feed, from: [run_up, fed], to: still}",
    ),
    (
        "wheel: {kind: line_fed_motor, name: grinder motor}",
        "wheel: {kind: line_fed_motor, name: grinder motor, delays: {run_up: 2 s}}",
    ),
)


def test_a_unit_s_own_run_up_after_its_start_is_the_person_s_start() -> None:
    assert not_passed(judged("start_stop_station", *RUN_UP)) == {}


def test_a_run_up_that_anything_but_an_act_can_begin_is_none() -> None:
    """The same motor, which also begins its run-up as soon as it is fed: the guard's closing starts it."""
    by_itself = (
        "      - {after: run_up, from: run_up, to: fed}\n",
        "      - {after: run_up, from: run_up, to: fed}\n      - {when: feed, from: still, to: run_up}\n",
    )
    coil = ("q1.coil: hood.a and halt.a and (go.pressed or q1.aux)", "q1.coil: hood.a and halt.a")
    wired = (
        ("  wheel.feed:", "  k9.coil: go.pressed\n  wheel.feed:"),
        ("  wheel: {kind", "  k9: {kind: plain_relay, name: spare relay}\n  wheel: {kind"),
    )
    failed = not_passed(judged("start_stop_station", *RUN_UP, by_itself, coil, *wired))
    assert "start_by_person" in failed


# Stop categories (IEC 60204-1:2016, 9.2.2): 0 removes the power at once, 1 after a controlled stop, 2 leaves it on.


def test_a_ramp_is_no_stop_of_category_0() -> None:
    assert not_passed(judged("stop_category_1")) == {}
    one_of_them = ("      stop_category: 1\n", "      stop_category: 0\n")
    result = judged("stop_category_1", one_of_them)
    found = of(result, "stop_category", "hood_stop", "drive")
    assert found.verdict is Verdict.FAIL
    assert not_passed(result) == {"stop_category": Verdict.FAIL}
    judged_units = [(one.function, one.subject) for one in result.properties if one.id == "stop_category"]
    assert judged_units == [("hood_stop", "drive"), ("halt_stop", "drive")]  # the load cannot brake


def test_a_stop_of_category_0_past_the_ramp_passes() -> None:
    """The door takes the torque-off inputs and the braking input off together: no braking (bench ramp_by_timer)."""
    result = judged("ramp_by_timer")
    assert of(result, "stop_category", "door_stop").verdict is Verdict.PASS
    brakes = (
        ("drive.sto_a: k1.out_a and k3.out_a", "drive.sto_a: k3.out_a"),
        ("drive.sto_b: k1.out_b and k3.out_b", "drive.sto_b: k3.out_b"),
    )
    assert of(judged("ramp_by_timer", *brakes), "stop_category", "door_stop").verdict is Verdict.FAIL
