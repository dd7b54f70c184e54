"""The declared machines: complete, linted, and at every step of one mind with the compiled chain."""

import pytest
from chain_benches import EXPECTED, random_benches, sample, wrong
from chain_machines import MachineBench, Restless
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.bench import Bench, Kind, builtin_kinds, kinds_of
from interlock.chain import reference
from interlock.chain.compile import compile_bench
from interlock.chain.ir import EventKind
from interlock.chain.machines import REACT, declare, guard_name, lint, trigger_of

CHOICES = st.lists(st.integers(0, 10_000), max_size=20)


@pytest.mark.parametrize("kind", builtin_kinds().values(), ids=builtin_kinds())
def test_every_transition_is_declared(kind: Kind) -> None:
    machine, _ = declare(kind)
    for index, step in enumerate(kind.transitions):
        declared = machine.events[trigger_of(step)].transitions
        for source in step.source:
            assert any(
                transition.dest == step.to and transition.conditions[0].func == guard_name(index)
                for transition in declared[source]
            )


@pytest.mark.parametrize("kind", builtin_kinds().values(), ids=builtin_kinds())
def test_nothing_else_is_declared(kind: Kind) -> None:
    machine, model = declare(kind)
    count = sum(
        len(transitions) for event in machine.events.values() for transitions in event.transitions.values()
    )
    assert count == sum(len(step.source) for step in kind.transitions)
    assert set(machine.states) == set(kind.states)
    assert model.state == kind.start


def test_a_condition_that_does_not_exist_is_found() -> None:
    machine, model = declare(builtin_kinds()["contactor"])
    machine.add_transition("act_kick", "open", "closed", conditions=["is_kicked"])
    assert list(lint(machine, model)) == ["is_kicked"]


def test_conditions_read_the_inputs_of_the_moment() -> None:
    _, model = declare(builtin_kinds()["plain_relay"])
    assert not model.react()
    model.inputs["coil"] = True
    assert model.react()
    assert model.state == "picked"


def test_an_input_left_open_has_its_default() -> None:
    _, model = declare(builtin_kinds()["safety_relay"])
    assert model.inputs == {"channel_a": False, "channel_b": False, "reset": False, "feedback": True}


def side_by_side(bench: Bench, choices: list[int]) -> None:
    """Walk at random: same events possible, same state after each, in library and compiled chain."""
    chain = compile_bench(bench).chain
    try:
        machines = MachineBench(bench)
    except Restless:
        with pytest.raises(reference.WiringLoop):
            reference.start(chain)
        return
    state = reference.start(chain)
    assert machines.state == state
    for choice in choices:
        prefix = {EventKind.ACT: "act_", EventKind.LATE: "late_"}
        possible = [event for event in chain.events if reference.step_taken(event, state) is not None]
        named = {(event.device, prefix[event.kind] + event.trigger): event for event in possible}
        assert set(machines.possible()) == set(named)
        if not named:
            return
        key = sorted(named)[choice % len(named)]
        step = reference.step_taken(named[key], state)
        assert step is not None
        raw = {**state, key[0]: step.to}
        try:
            machines.fire(*key)
        except Restless:
            with pytest.raises(reference.WiringLoop):
                reference.settle(chain, raw)
            return
        state = reference.settle(chain, raw)
        assert machines.state == state


@settings(max_examples=15, deadline=None)
@given(CHOICES)
def test_sample_side_by_side(choices: list[int]) -> None:
    side_by_side(sample(), choices)


@settings(max_examples=15, deadline=None)
@given(st.sampled_from(sorted(EXPECTED)), CHOICES)
def test_wrong_benches_side_by_side(name: str, choices: list[int]) -> None:
    side_by_side(wrong(name), choices)


@settings(max_examples=20, deadline=None)
@given(random_benches(), CHOICES)
def test_random_benches_side_by_side(bench: Bench, choices: list[int]) -> None:
    side_by_side(bench, choices)


def test_a_walk_covers_the_sample_far_enough_to_mean_something() -> None:
    machines = MachineBench(sample())
    for device, act in (
        ("supply_on", "act_press"),
        ("contactor", "late_pick_up"),
        ("reset", "act_press"),
        ("reset", "act_release"),
        ("drive", "act_start"),
        ("load", "act_start"),
    ):
        machines.fire(device, act)
    assert machines.state["drive"] == machines.state["load"] == "running"


def test_triggers_of_the_library_never_collide_with_its_own_names() -> None:
    for kind in kinds_of(sample()).values():
        for step in kind.transitions:
            assert trigger_of(step) == REACT or trigger_of(step).startswith(("act_", "late_"))
