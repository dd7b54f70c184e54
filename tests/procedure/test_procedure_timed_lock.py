"""Proof tests of guards that a timer frees: such a guard never finds the bench running, and the waits are long."""

import math

import pytest
from plan_benches import DEMO, SAMPLE, bench_of, plan_of

from interlock.procedure.goals import Goal, GoalKind
from interlock.procedure.plan import PlanStep
from interlock.procedure.words import observed, wait_s

RELAY = "tests/benches/shapes/lock_freed_by_a_relay.yaml"
TIMER = "tests/benches/shapes/lock_freed_by_a_timer.yaml"
MONITOR = "tests/benches/shapes/guard_locking.yaml"


def step_of(name: str, goal: str) -> PlanStep:
    return next(step for step in plan_of(name).steps if goal in step.covers)


@pytest.mark.parametrize("name", [RELAY, TIMER, MONITOR])
def test_everything_of_a_locked_guard_is_exercised(name: str) -> None:
    plan = plan_of(name)
    assert plan.not_exercised == ()
    assert {f"{kind}:guard_stop" for kind in ("stop", "reset_barred", "release", "press_only", "reset")} <= {
        goal for step in plan.steps for goal in step.covers
    }


@pytest.mark.parametrize("name", [RELAY, TIMER])
def test_a_guard_that_is_freed_at_rest_is_not_told_to_stop_anything(name: str) -> None:
    first, *rest = step_of(name, "stop:guard_stop").observe
    assert "is freed only now, when nothing makes torque or turns any more" in first
    assert not any("within" in one for one in (first, *rest))


def test_a_demand_that_finds_the_bench_running_is_told_by_its_limits() -> None:
    assert any("within 100 ms" in one for one in step_of(RELAY, "stop:halt_stop").observe)


def test_a_person_waits_as_long_as_the_timer_takes() -> None:
    """The relay drops out 15 s after the halt, the shaft runs down in 6 s before; nobody may look away sooner."""
    assert step_of(RELAY, "stop:halt_stop").wait_s > 15
    drops = [
        step
        for step in plan_of(RELAY).steps
        if any("timer relay: dropped out" in one for one in step.observe)
    ]
    assert [step.wait_s > 15 for step in drops[1:]] == [True] * len(drops[1:])
    assert len(drops) > 1


@pytest.mark.parametrize("name", [DEMO, SAMPLE, RELAY])
def test_no_step_is_left_before_what_comes_late_has_come(name: str) -> None:
    """Each device that a step shows to have settled had the time for its own delay."""
    bench = bench_of(name)
    for step in plan_of(name).steps[1:]:
        for device in bench.devices.values():
            slowest = max(device.delays.values(), default=0)
            settled = {"dc_bus": "discharged", "off_delay_relay": "dropped out"}.get(device.kind)
            if settled is not None and f"{device.name}: {settled}" in step.observe:
                assert step.wait_s >= math.ceil(slowest / 1e9)


@pytest.mark.parametrize(
    ("late_ns", "seconds"),
    [(0, 1), (80_000_000, 1), (500_000_000, 1), (501_000_000, 2), (15_000_000_000, 16)],
)
def test_a_wait_is_half_a_second_longer_than_what_comes_late(late_ns: int, seconds: int) -> None:
    assert wait_s(bench_of(DEMO), [], starts=False, late_ns=late_ns) == seconds


def test_the_limit_of_a_stop_is_waited_for_where_it_is_longer() -> None:
    stop = Goal(GoalKind.STOP, "hood_stop")
    alone = wait_s(bench_of(DEMO), [stop], starts=False)
    assert wait_s(bench_of(DEMO), [stop], starts=False, late_ns=1) == alone


def test_a_stop_at_rest_names_the_guard_and_its_units() -> None:
    [said] = observed(bench_of(RELAY), Goal(GoalKind.STOP, "guard_stop"), at_rest=True)
    assert said.startswith("the chamber guard is freed only now")
    assert said.endswith("drive motor: no torque")


def test_a_timer_without_its_delay_is_to_be_timed() -> None:
    """No act shows it: at rest nobody sees when the guard was freed."""
    [found] = [one for one in plan_of(RELAY).unrevealed if one.fault == "k2.no_delay"]
    assert (
        found.inspect
        == "Time the off delay of the timer relay, and compare it with what the bench file states."
    )
