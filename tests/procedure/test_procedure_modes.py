"""Stops are tested in each mode of a bench: by selector, and by units that can run together. Invented benches."""

from typing import Any

import pytest
import yaml
from plan_benches import ROOT, SAMPLE

from interlock.bench import Bench, parse_bench
from interlock.procedure import Plan, as_yaml, derive, parse_procedure, procedure_of

SELECTOR = {
    "text": "key switch of two positions",
    "start": "work",
    "states": {"work": "work", "set_up": "set-up"},
    "outputs": {"working": "work"},
    "transitions": [
        {"act": "to_set_up", "from": "work", "to": "set_up", "words": "turn the {name} to set-up"},
        {"act": "to_work", "from": "set_up", "to": "work", "words": "turn the {name} to work"},
    ],
}


def changed(change: Any) -> Bench:
    """The sample bench after a change of its data, without what its logs show."""
    data = yaml.safe_load((ROOT / SAMPLE).read_text("utf-8"))
    data.pop("shows")
    data.pop("rating", None)
    change(data)
    return parse_bench("changed.yaml", yaml.safe_dump(data, sort_keys=False))


def as_it_is(data: Any) -> None:
    """Changes nothing."""
    assert data


def with_selector(data: Any) -> None:
    data["kinds"] = {"selector": SELECTOR}
    data["devices"]["mode"] = {"kind": "selector", "name": "mode switch"}


def without_emergency_stop(data: Any) -> None:
    """The emergency stop leaves the chain of the units and cuts the supply alone; no function asks for it."""
    del data["required"]["functions"]["emergency_stop"]


def one_at_a_time(data: Any) -> None:
    data["wiring"]["drive.sto_b"] = "relay.out_b and not load.torque"
    data["wiring"]["load.sto_b"] = "relay.out_b and not drive.torque"
    data["wiring"]["references.zero"] = "not relay.out_a or not relay.out_b"


def stops(plan: Plan, function: str) -> list[str]:
    return sorted(goal for step in plan.steps for goal in step.covers if goal.startswith(f"stop:{function}"))


@pytest.fixture(scope="module")
def selectable() -> Plan:
    return derive(changed(with_selector))


@pytest.mark.parametrize("function", ["cover_stop", "button_stop", "emergency_stop"])
def test_each_function_is_demanded_in_each_mode(selectable: Plan, function: str) -> None:
    assert stops(selectable, function) == [f"stop:{function}@mode=set_up", f"stop:{function}@mode=work"]
    assert selectable.not_exercised == ()


def test_modes_cost_their_stops_and_stay_near_the_bound(selectable: Plan) -> None:
    # 124 more for the second demand of each function (100 + 14 + 10), at least one turn of the switch
    assert selectable.lower_bound >= derive(changed(as_it_is)).lower_bound + 125
    assert selectable.cost <= 1.15 * selectable.lower_bound


def test_a_mode_is_said_at_its_stop_and_survives_the_file(selectable: Plan) -> None:
    step = next(one for one in selectable.steps if any("@mode=set_up" in goal for goal in one.covers))
    assert "the bench ran in this mode: mode=set_up" in step.observe
    procedure = procedure_of(selectable, None)
    assert parse_procedure("p.yaml", as_yaml(procedure), changed(with_selector)) == procedure


def test_units_that_cannot_run_together_are_each_stopped() -> None:
    plan = derive(changed(one_at_a_time))
    assert stops(plan, "button_stop") == ["stop:button_stop@drive", "stop:button_stop@load"]


def test_a_function_that_is_not_required_is_not_tested() -> None:
    plan = derive(changed(without_emergency_stop))
    assert not stops(plan, "emergency_stop")
    assert plan.not_exercised == ()
    assert plan.cost <= 1.15 * plan.lower_bound
    assert plan.cost < 168  # what the sample costs with its emergency stop


def test_a_bench_that_shows_nothing_is_observed_by_its_effects_alone() -> None:
    plan = derive(changed(as_it_is))
    shown = {fault for step in plan.steps for fault in step.reveals}
    assert "contactor.welds" in shown
    assert "cover.a_stays_closed" in shown  # not by its own signal, but because the relay locks out
