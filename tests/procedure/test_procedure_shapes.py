"""Benches of other shapes: several doors in series, guard locking, stop category 1, a supply cut alone. Invented."""

from copy import deepcopy
from functools import cache
from typing import Any

import pytest
import yaml
from plan_benches import ROOT, SAMPLE, Person, seen_along

from interlock.bench import Bench, parse_bench
from interlock.chain.fault_list import considered
from interlock.procedure import Plan, derive
from interlock.procedure.goals import GoalKind, goals_of

RAMP: dict[str, Any] = {
    "text": "drive that brakes by a ramp and then takes its torque away (SS1, IEC 61800-5-2)",
    "inputs": {"sto_a": "never", "sto_b": "never", "supply": "never"},
    "off_channels": ["sto_a", "sto_b"],
    "delays": ["ramp"],
    "start": "disabled",
    "states": {
        "disabled": "torque off",
        "ready": "permitted",
        "running": "makes torque",
        "braking": "brakes",
    },
    "outputs": {"enabled": "ready or running", "torque": "running or braking"},
    "transitions": [
        {"when": "not sto_a or not sto_b", "from": ["running"], "to": "braking"},
        {"when": "not sto_a or not sto_b", "from": ["ready"], "to": "disabled"},
        {"when": "not supply", "from": ["running", "braking"], "to": "disabled"},
        {"when": "sto_a and sto_b", "from": ["disabled"], "to": "ready"},
        {"after": "ramp", "from": ["braking"], "to": "disabled"},
        {"act": "start", "when": "supply", "from": ["ready"], "to": "running", "words": "start the {name}"},
        {"act": "stop", "from": ["running"], "to": "ready", "words": "stop the {name}"},
    ],
}
LOCKED: dict[str, Any] = {
    "text": "guard with locking; it opens only after its bolt was drawn, and both contacts tell of the bolt",
    "start": "locked",
    "states": {"locked": "closed and locked", "unlocked": "closed, bolt drawn", "open": "open"},
    "outputs": {"a": "locked", "b": "locked"},
    "demand": "not a or not b",
    "channels": ["a", "b"],
    "transitions": [
        {"act": "unlock", "from": "locked", "to": "unlocked", "words": "draw the bolt of the {name}"},
        {"act": "open", "from": "unlocked", "to": "open", "words": "open the {name}"},
        {"act": "close", "from": "open", "to": "unlocked", "words": "close the {name}"},
        {"act": "lock", "from": "unlocked", "to": "locked", "words": "shoot the bolt of the {name}"},
    ],
    "faults": {
        "a_stays_closed": {
            "text": "contact a does not open",
            "source": "invented",
            "outputs": {"a": "always"},
        },
        "bolt_stays_drawn": {"text": "the bolt does not go back", "source": "invented", "blocks": ["lock"]},
    },
}


def three_doors(data: Any) -> None:
    """Two more covers in series with the first; each has a function of its own."""
    for name in ("side", "rear"):
        data["devices"][name] = {"kind": "guard_switch", "name": f"{name} door"}
        function = deepcopy(data["required"]["functions"]["cover_stop"])
        function |= {"demand": name, "title": f"opening the {name} door takes the torque away"}
        data["required"]["functions"][f"{name}_stop"] = function
    for channel in "ab":
        line = (
            f"cover.{channel} and side.{channel} and rear.{channel} and button.{channel} and estop.{channel}"
        )
        data["wiring"][f"relay.channel_{channel}"] = line


def guard_locking(data: Any) -> None:
    data["kinds"] = {"locked_guard": LOCKED}
    data["devices"]["cover"]["kind"] = "locked_guard"


def category_1(data: Any) -> None:
    data["kinds"] = {"ramp_drive": RAMP}
    data["devices"]["drive"] = {"kind": "ramp_drive", "name": "drive unit", "delays": {"ramp": "50 ms"}}
    for function in data["required"]["functions"].values():
        function["stop_category"] = 1


def one_channel(data: Any) -> None:
    """Both torque-off inputs of each unit hang on one wire."""
    for unit in ("drive", "load"):
        data["wiring"][f"{unit}.sto_b"] = "relay.out_a"


def no_bus(data: Any) -> None:
    """A single contactor, no bus whose discharge is required."""
    del data["required"]["effects"]["bus_discharged"]
    data["required"]["functions"]["emergency_stop"]["effects"].remove("bus_discharged")


SHAPES = {
    "three_doors": three_doors,
    "guard_locking": guard_locking,
    "category_1": category_1,
    "one_channel": one_channel,
    "no_bus": no_bus,
}


@cache
def shaped(name: str) -> Bench:
    data = yaml.safe_load((ROOT / SAMPLE).read_text("utf-8"))
    data.pop("shows")
    data.pop("rating", None)
    SHAPES[name](data)
    return parse_bench(f"{name}.yaml", yaml.safe_dump(data, sort_keys=False))


@cache
def planned(name: str) -> Plan:
    return derive(shaped(name))


@pytest.mark.parametrize("name", SHAPES)
def test_everything_required_is_exercised(name: str) -> None:
    covered = {goal for step in planned(name).steps for goal in step.covers}
    assert covered == {goal.id for goal in goals_of(shaped(name))}
    assert planned(name).not_exercised == ()


@pytest.mark.parametrize("name", SHAPES)
def test_the_cost_is_within_15_percent_of_the_bound(name: str) -> None:
    assert planned(name).lower_bound <= planned(name).cost <= 1.15 * planned(name).lower_bound


@pytest.mark.parametrize("name", SHAPES)
def test_its_steps_are_possible_and_end_with_the_bench_running(name: str) -> None:
    person = Person(shaped(name), None)
    for step in planned(name).steps[1:]:
        assert person.act(step.device, step.does), step
    assert person.state["load"] == "running"


@pytest.mark.parametrize("name", SHAPES)
def test_what_is_said_to_show_does_show(name: str) -> None:
    bench, plan = shaped(name), planned(name)
    sound = seen_along(bench, plan, None)
    said = {fault for step in plan.steps for fault in step.reveals}
    for fault in considered(bench):
        differs = seen_along(bench, plan, fault) != sound
        assert differs or fault.id not in said, fault.id


def test_each_door_is_opened_alone_since_doors_in_series_hide_each_other() -> None:
    """ISO/TR 24119: a second door in series can hide the fault of the first; here each one is opened alone."""
    person, doors = Person(shaped("three_doors"), None), ("cover", "side", "rear")
    opened = []
    for step in planned("three_doors").steps[1:]:
        before = [door for door in doors if person.state[door] != "closed"]
        person.act(step.device, step.does)
        if step.device in doors and any(goal.startswith(GoalKind.STOP) for goal in step.covers):
            assert before == []
            opened.append(step.device)
    assert sorted(opened) == sorted(doors)


@pytest.mark.parametrize("door", ["cover", "side", "rear"])
def test_a_contact_that_stays_closed_shows_at_each_door(door: str) -> None:
    said = {fault for step in planned("three_doors").steps for fault in step.reveals}
    assert {f"{door}.a_stays_closed", f"{door}.b_stays_closed"} <= said


def test_a_locked_guard_is_unlocked_not_opened_by_force() -> None:
    steps = [step.does for step in planned("guard_locking").steps if step.device == "cover"]
    assert ("unlock",) in steps
    assert all(len(does) == 1 for does in steps)


def test_a_bolt_that_stays_drawn_shows() -> None:
    said = {fault for step in planned("guard_locking").steps for fault in step.reveals}
    assert "cover.bolt_stays_drawn" in said


def test_with_one_wire_for_both_channels_a_short_of_it_shows() -> None:
    """With two wires each hides the other's short; on one relay output a weld shows at the next reset at the latest."""
    said = {fault for step in planned("one_channel").steps for fault in step.reveals}
    assert "relay.out_a_welds" in said
    assert "drive.wire_sto_a_short_to_supply" not in said  # the second input still falls


def test_without_a_required_bus_no_discharge_is_waited_for() -> None:
    stop = next(one for one in planned("no_bus").steps if "stop:emergency_stop" in one.covers)
    assert not any("V or less" in text for text in stop.observe)


def test_holding_a_device_that_starts_is_never_told_to_bring_nothing() -> None:
    """Its demand ends by holding it, and torque comes by the same act: both at once would be no instruction."""
    text = (ROOT / "tests" / "benches" / "shapes" / "two_hand_control.yaml").read_text("utf-8")
    steps = derive(parse_bench("b.yaml", text)).steps
    starts = [
        one for one in steps if one.device == "hands" and any("makes torque" in saw for saw in one.observe)
    ]
    seen = [saw for one in starts for saw in one.observe]
    assert [saw for saw in seen if "is the start" in saw]
    assert not [saw for saw in seen if "nothing comes back" in saw]
    own = [saw for one in starts if "restart:hands_stop" in one.covers for saw in one.observe]
    assert own
    assert not [saw for saw in own if "by the reset" in saw]
    assert [
        one for one in starts if "restart:emergency_stop" in one.covers
    ]  # the hands are let go within that stop


@pytest.mark.parametrize("name", ["set_up_mode", "two_hand_control"])
def test_a_test_ends_where_every_stop_is_over(name: str) -> None:
    """A log that ends within a stop is inconclusive: nobody saw that the bench stayed off until the reset."""
    text = (ROOT / "tests" / "benches" / "shapes" / f"{name}.yaml").read_text("utf-8")
    bench = parse_bench("b.yaml", text)
    person = Person(bench, None)
    for step in derive(bench).steps[1:]:
        assert person.act(step.device, step.does), step
    assert {person.state[one] for one in ("estop", "halt", "reset") if one in person.state} == {"released"}
