"""The explorer against a second opinion that shares no code with it: same states, same verdicts, same lengths."""

import pytest
from chain_benches import EXPECTED, random_benches, sample, wrong
from chain_naive import Judge, World
from chain_naive_rules import soonest_of_all
from hypothesis import assume, given, settings

from interlock.bench import Bench
from interlock.chain import check
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.reference import WiringLoop
from interlock.errors import BenchError
from interlock.verdict import Verdict

MANY = 1_000_000
SMALL = [
    name
    for name in sorted(EXPECTED)
    if name[:2] in {"01", "03", "06", "12", "16", "19", "22", "24", "26", "27"}
]


def same_states(bench: Bench) -> None:
    """Same states, and between them the same moves."""
    world = World(bench)
    graph = explore(compile_bench(bench).chain, MANY)
    states = [tuple(graph.layout.unpack(int(word))[name] for name in world.names) for word in graph.states]
    assert states[0] == world.start
    assert len(set(states)) == len(states)
    assert set(states) == world.reachable()
    found = {(states[s], states[t]) for s, t in zip(graph.source, graph.target, strict=True)}
    assert found == {(state, move.after) for state in states for move in world.moves(state)}
    assert len(graph.source) == sum(len(world.moves(state)) for state in states)


def same_verdicts(bench: Bench) -> None:
    """A property fails exactly if the second opinion finds a way, and the ways are equally long."""
    judge = Judge(World(bench))
    for one in check(bench).properties:
        steps = len(one.acts) if one.verdict is Verdict.FAIL else None
        assert soonest_of_all(judge, one.id, one.function, one.subject) == steps, (one.id, one.function)


def test_states_of_the_sample() -> None:
    same_states(sample())


def test_verdicts_of_the_sample() -> None:
    same_verdicts(sample())


@pytest.mark.parametrize("name", [*SMALL, "18_contactor_slower_than_the_hand.yaml"])
def test_states_of_wrong_benches(name: str) -> None:
    same_states(wrong(name))


@pytest.mark.parametrize("name", SMALL)
def test_verdicts_of_wrong_benches(name: str) -> None:
    same_verdicts(wrong(name))


@settings(max_examples=10, deadline=None)
@given(random_benches())
def test_states_of_random_benches(bench: Bench) -> None:
    try:
        explore(compile_bench(bench).chain, MANY)
    except WiringLoop:
        with pytest.raises(RecursionError):
            World(bench).reachable()
        return
    same_states(bench)


@settings(max_examples=10, deadline=None)
@given(random_benches())
def test_verdicts_of_random_benches(bench: Bench) -> None:
    try:
        result = check(bench)
    except BenchError:
        assume(False)
        return
    assume(result.states < 2000)
    same_verdicts(bench)
