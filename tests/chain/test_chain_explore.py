"""The vectorised search against the plain interpreter on small chains, and what happens at its limits."""

from collections import deque

import numpy as np
import pytest
from chain_benches import random_benches, sample
from hypothesis import given, settings

from interlock.bench import Bench
from interlock.chain import ir, reference, stepping
from interlock.chain.compile import compile_bench
from interlock.chain.explore import Graph, explore
from interlock.chain.reference import WiringLoop

MANY = 1_000_000


def plainly(chain: ir.Chain) -> tuple[list[reference.State], list[tuple[int, int, int]]]:
    """States in the order met and edges (source, event, target), one state at a time."""
    states, edges, todo = [reference.start(chain)], [], deque([0])
    while todo:
        number = todo.popleft()
        for event, after in reference.successors(chain, states[number]):
            if after not in states:
                todo.append(len(states))
                states.append(after)
            edges.append((number, event, states.index(after)))
    return states, edges


def unpacked(graph: Graph) -> tuple[list[reference.State], list[tuple[int, int, int]]]:
    edges = zip(graph.source.tolist(), graph.event.tolist(), graph.target.tolist(), strict=True)
    return [graph.layout.unpack(word) for word in graph.layout.numbers(graph.states)], list(edges)


def test_sample_to_the_letter() -> None:
    chain = compile_bench(sample()).chain
    assert unpacked(explore(chain, MANY)) == plainly(chain)


@settings(max_examples=25, deadline=None)
@given(random_benches())
def test_random_benches_to_the_letter(bench: Bench) -> None:
    chain = compile_bench(bench).chain
    try:
        expected = plainly(chain)
    except WiringLoop:
        with pytest.raises(WiringLoop):
            explore(chain, MANY)
        return
    assert unpacked(explore(chain, MANY)) == expected


def test_edges_of_a_state_are_found_by_its_number() -> None:
    graph = explore(compile_bench(sample()).chain, MANY)
    for state in range(len(graph.states)):
        span = slice(graph.first_edge[state], graph.first_edge[state + 1])
        assert set(graph.source[span].tolist()) <= {state}
    assert graph.first_edge[-1] == len(graph.source)


@pytest.mark.parametrize("limit", [0, 1, 20, 100])
def test_a_limit_gives_the_nearest_states_and_says_so(limit: int) -> None:
    chain = compile_bench(sample()).chain
    whole, part = explore(chain, MANY), explore(chain, limit)
    assert whole.whole
    assert not part.whole
    assert part.expanded < len(part.states)
    assert len(part.states) > limit
    assert part.states.tolist() == whole.states[: len(part.states)].tolist()
    assert part.source.tolist() == whole.source[: len(part.source)].tolist()


def test_a_limit_that_is_just_enough_leaves_nothing_out() -> None:
    chain = compile_bench(sample()).chain
    count = len(explore(chain, MANY).states)
    assert explore(chain, count).whole
    assert not explore(chain, count - 1).whole


def ring(length: int) -> ir.Chain:
    """A switch and a row of lamps that light one after the other: settling takes many rounds."""
    fields = [ir.Field(f"f{number}", ("off", "on"), "off") for number in range(length)]
    reactions = []
    for number in range(1, length):
        lit = ir.Now(f"f{number - 1}", frozenset({"on"}))
        steps = (ir.Step(frozenset({"off"}), lit, "on"), ir.Step(frozenset({"on"}), ir.no(lit), "off"))
        reactions.append(ir.Reactions(f"f{number}", steps))
    toggle = (ir.Step(frozenset({"off"}), ir.TRUE, "on"), ir.Step(frozenset({"on"}), ir.TRUE, "off"))
    return ir.Chain(tuple(fields), tuple(reactions), (ir.Event("f0", "toggle", ir.EventKind.ACT, toggle),))


@pytest.mark.parametrize("length", [3, 40, 63])
def test_long_rows_of_reactions_come_to_rest(length: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stepping, "_LOOK", 8)
    graph = explore(ring(length), MANY)
    assert len(graph.states) == 2
    assert set(graph.layout.unpack(int(graph.states[1])).values()) == {"on"}


def test_a_loop_that_only_some_state_reaches_is_found() -> None:
    chain = ring(3)
    first, second = (ir.Now(name, frozenset({"on"})) for name in ("f0", "f2"))
    flicker = ir.Reactions(
        "f2",
        (
            ir.Step(frozenset({"off"}), first, "on"),
            ir.Step(frozenset({"on"}), ir.all_of([first, second]), "off"),
        ),
    )
    loop = ir.Chain(chain.fields, (chain.reactions[0], flicker), chain.events)
    with pytest.raises(WiringLoop) as caught:
        explore(loop, MANY)
    assert caught.value.devices == {"f2"}


def test_a_chain_in_which_nothing_can_happen_has_one_state() -> None:
    still = ir.Chain((ir.Field("shaft", ("still",), "still"),), (), ())
    graph = explore(still, MANY)
    assert len(graph.states) == 1
    assert graph.source.dtype == np.int64
    assert graph.source.size == 0
    assert graph.whole
