"""Costs of acts: an emergency stop under load is the dearest; keys that mean nothing are refused."""

from typing import Any

import pytest
import yaml
from plan_benches import DEMO, ROOT

from interlock.bench import Bench, parse_bench
from interlock.bench.plan_check import COST_CLASSES
from interlock.errors import BenchError, InterlockError
from interlock.procedure import derive
from interlock.procedure.costs import DEFAULT_COSTS, SOURCE, costs_of


def test_the_emergency_stop_under_load_is_dearest_and_a_button_cheapest() -> None:
    """Common practice, no source: it wears contactor and drives."""
    assert max(DEFAULT_COSTS, key=DEFAULT_COSTS.__getitem__) == "supply_stop_under_load"
    assert min(DEFAULT_COSTS, key=DEFAULT_COSTS.__getitem__) == "act"
    assert "no source" in SOURCE


def test_given_costs_take_the_place_of_the_defaults() -> None:
    found = costs_of({"guard": 7, "reset.press": 2})
    assert found["guard"] == 7
    assert found["reset.press"] == 2
    assert found["act"] == DEFAULT_COSTS["act"]


def test_none_given_are_the_defaults() -> None:
    assert costs_of() == dict(DEFAULT_COSTS)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"gard": 3}, "unknown key"),
        ({"guard": 0}, "above zero"),
        ({"guard": True}, "whole number"),
        ({"act": -1}, "above"),
    ],
)
def test_what_is_no_cost_is_refused(given: dict[str, int], said: str) -> None:
    with pytest.raises(InterlockError, match=said):
        costs_of(given)


def demo_with(plan: Any) -> Bench:
    data = yaml.safe_load((ROOT / DEMO).read_text("utf-8"))
    data.pop("shows")
    return parse_bench("bench.yaml", yaml.safe_dump({**data, "plan": plan}, sort_keys=False))


def test_a_bench_knows_the_classes_of_acts_that_have_costs() -> None:
    assert set(COST_CLASSES) == set(DEFAULT_COSTS)


def test_the_costs_of_the_bench_weigh_and_are_named() -> None:
    plan = derive(demo_with({"costs": {"act": 2, "hood.open_a": 50}, "source": "our shop"}))
    assert plan.costs["act"] == 2
    assert plan.costs_source == "by the bench: our shop; otherwise: common practice, no source"
    assert [step.cost for step in plan.steps if "open_a" in step.does] == [50]
    assert {step.cost for step in plan.steps if step.device == "reset"} == {2}


def test_costs_given_for_one_plan_come_before_those_of_the_bench() -> None:
    plan = derive(demo_with({"costs": {"act": 2}, "source": "our shop"}), costs={"act": 3})
    assert {step.cost for step in plan.steps if step.device == "reset"} == {3}


@pytest.mark.parametrize(
    ("costs", "said"),
    [
        ({"gard": 3}, ":5: 'gard': there is no class of acts of this name; did you mean guard?"),
        (
            {"hood.opens": 3},
            ":5: 'hood.opens': there is no act of this name; did you mean hood.open_b or hood.open_a?",
        ),
        ({"lid.open": 3}, ":5: 'lid.open': there is no act of this name"),
        ({"guard": 0}, ":12: guard: '0'"),
        ({"guard": 1.5}, ":12: guard: '1.5'"),
        ({}, ":10: costs: "),
    ],
)
def test_a_cost_of_nothing_is_refused_at_its_place(costs: dict[str, Any], said: str) -> None:
    with pytest.raises(BenchError) as refused:
        demo_with({"costs": costs, "source": "our shop"})
    (problem,) = refused.value.problems
    assert said in str(problem)
