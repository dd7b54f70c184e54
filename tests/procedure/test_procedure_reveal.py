"""What a plan says of each fault, held against the plain interpreter: it shows where the plan says, or never."""

import random

import pytest
from plan_benches import DEMO, SAMPLE, WRONG, Person, bench_of, plan_of, seen_along

from interlock.chain.fault_list import considered

BENCHES = [DEMO, SAMPLE, WRONG + "02_brake_sto_not_wired.yaml", WRONG + "17_motor_resumes_with_supply.yaml"]
BENCHES += [WRONG + "24_reset_cancels_the_ramp.yaml", "tests/benches/shapes/lock_freed_by_a_relay.yaml"]


@pytest.mark.parametrize("name", BENCHES)
def test_each_fault_is_either_revealed_or_not(name: str) -> None:
    plan = plan_of(name)
    revealed = [fault for step in plan.steps for fault in step.reveals]
    hidden = [one.fault for one in plan.unrevealed]
    assert sorted(revealed + hidden) == sorted(one.id for one in considered(bench_of(name)))


@pytest.mark.parametrize("name", BENCHES)
def test_each_fault_shows_at_its_step_and_no_later(name: str) -> None:
    bench, plan = bench_of(name), plan_of(name)
    sound = seen_along(bench, plan, None)
    said = {fault: step.number for step in plan.steps for fault in step.reveals}
    for fault in considered(bench):
        shown = [
            next((n for n, (a, b) in enumerate(zip(sound, got, strict=True), 1) if a != b), None)
            for got in (seen_along(bench, plan, fault, backwards=turned) for turned in (False, True))
        ]
        if fault.id in said:
            assert None not in shown, fault.id
            assert max(one for one in shown if one is not None) == said[fault.id], fault.id
        else:
            assert None in shown, fault.id


@pytest.mark.parametrize("name", BENCHES)
def test_every_step_of_a_plan_is_possible_on_the_sound_bench(name: str) -> None:
    person = Person(bench_of(name), None)
    for step in plan_of(name).steps[1:]:
        assert person.act(step.device, step.does), step


@pytest.mark.parametrize("name", BENCHES[:2])
def test_what_no_act_shows_stays_silent_whatever_one_does(name: str) -> None:
    """Random acts, one after the other, on the faulty bench and on the sound one: they look the same for ever."""
    bench, plan = bench_of(name), plan_of(name)
    dark = {one.fault for one in plan.unrevealed}
    moves = sorted({(step.device, step.does) for step in plan.steps[1:]})
    rng = random.Random(3)
    for fault in considered(bench):
        if fault.id in dark:
            sound, faulty = Person(bench, None), Person(bench, fault)
            for _ in range(60):
                move = rng.choice(moves)
                sound.act(*move)
                faulty.act(*move)
                assert sound.sees() == faulty.sees(), (fault.id, move)
