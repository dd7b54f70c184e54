"""The derived proof test: everything required is in it, and it is near the proved bound."""

import jsonschema
import pytest
from plan_benches import DEMO, SAMPLE, WRONG, bench_of, plan_of

from interlock.chain.fault_list import excluded
from interlock.errors import InterlockError
from interlock.procedure import derive, plan_schema
from interlock.procedure.goals import GoalKind, goals_of

LISTED = [
    "02_brake_sto_not_wired.yaml",
    "09_power_button_beside_the_stop.yaml",
    "17_motor_resumes_with_supply.yaml",
    "24_reset_cancels_the_ramp.yaml",
    "30_power_button_resets.yaml",
]
SOUND = [DEMO, SAMPLE]
WHOLE = [*SOUND, WRONG + LISTED[0], WRONG + LISTED[1], WRONG + LISTED[2], WRONG + LISTED[4]]
"""Benches on which everything can be exercised; some of them are wrong all the same, which a test then shows."""


@pytest.mark.parametrize("name", WHOLE)
def test_every_goal_is_covered(name: str) -> None:
    plan = plan_of(name)
    covered = {goal for step in plan.steps for goal in step.covers}
    assert covered == {goal.id for goal in goals_of(bench_of(name))}
    assert plan.not_exercised == ()


@pytest.mark.parametrize("name", [*WHOLE, WRONG + LISTED[3]])
def test_cost_is_within_15_percent_of_the_bound(name: str) -> None:
    plan = plan_of(name)
    assert plan.lower_bound <= plan.cost <= 1.15 * plan.lower_bound


@pytest.mark.parametrize("name", SOUND)
def test_no_sequence_is_cheaper_for_demo_and_sample(name: str) -> None:
    assert plan_of(name).cost == plan_of(name).lower_bound


@pytest.mark.parametrize("name", SOUND)
def test_cost_is_the_sum_of_its_steps(name: str) -> None:
    plan = plan_of(name)
    assert plan.cost == sum(step.cost for step in plan.steps)
    assert [step.number for step in plan.steps] == list(range(1, len(plan.steps) + 1))


@pytest.mark.parametrize("name", SOUND)
def test_the_emergency_stop_is_pressed_under_load_once_only(name: str) -> None:
    bench, plan = bench_of(name), plan_of(name)
    device = bench.required.functions["emergency_stop"].demand
    assert sum(step.device == device and step.does == ("press",) for step in plan.steps) == 1


def test_a_dearer_emergency_stop_changes_the_cost_by_its_one_use() -> None:
    dear = derive(bench_of(DEMO), costs={"supply_stop_under_load": 1000})
    assert dear.cost == dear.lower_bound == plan_of(DEMO).cost + 900
    assert dear.costs_source == "as given for this plan; otherwise: common practice, no source"


def test_the_same_bench_gives_the_same_plan() -> None:
    assert derive(bench_of(DEMO)) == plan_of(DEMO)


@pytest.mark.parametrize("name", SOUND)
def test_json_meets_its_schema(name: str) -> None:
    document = plan_of(name).as_json("0" * 64)
    jsonschema.validate(document, plan_schema())
    assert {"cost", "lower_bound", "steps", "unrevealed"} <= set(document)


def test_exclusions_are_named_and_not_planned_for() -> None:
    plan = plan_of(DEMO)
    assert [one["fault"] for one in plan.exclusions] == [one.fault for one in excluded(bench_of(DEMO))]
    told = {fault for step in plan.steps for fault in step.reveals} | {one.fault for one in plan.unrevealed}
    assert not told & {one["fault"] for one in plan.exclusions}


@pytest.mark.parametrize(
    ("file", "missing"),
    [
        ("08_hood_channel_bridged.yaml", {"reset:hood_stop", "restart:hood_stop"}),
        ("04_contactor_ignores_emergency_off.yaml", {"supply_on_anew:emergency_off"}),
        ("26_lock_out_never_ends.yaml", {"reset:hood_stop", "restart:hood_stop"}),
    ],
)
def test_what_a_wrong_bench_never_lets_one_exercise_is_named(file: str, missing: set[str]) -> None:
    assert set(plan_of(WRONG + file).not_exercised) == missing


def test_limits_of_the_bench_file_stand_in_the_steps() -> None:
    stop = next(step for step in plan_of(DEMO).steps if "stop:emergency_stop" in step.covers)
    said = "; ".join(stop.observe)
    for limit in (
        "within 80 ms",
        "within 250 ms",
        "below 10 1/min within 6 s",
        "within 120 ms",
        "60 V or less",
    ):
        assert limit in said
    assert stop.wait_s >= 6


def test_buttons_under_test_are_held() -> None:
    presses = [
        step for step in plan_of(DEMO).steps if step.device in ("reset", "supply_on") and "press" in step.does
    ]
    assert presses
    assert all("hold it for 1 s" in step.act for step in presses)


def test_a_stop_precedes_everything_else_of_its_trial() -> None:
    order = [goal for step in plan_of(DEMO).steps for goal in step.covers]
    for name in bench_of(DEMO).required.functions:
        of = [goal for goal in order if goal.endswith(f":{name}")]
        assert of[0] == f"{GoalKind.STOP}:{name}"
        assert of[-1] == f"{GoalKind.RESTART}:{name}"


def test_an_unknown_cost_is_refused() -> None:
    with pytest.raises(InterlockError, match="unknown key 'lunch'"):
        derive(bench_of(DEMO), costs={"lunch": 3})
