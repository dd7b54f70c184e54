"""The product of chain and observers: like the plain interpreter, and its ways are shortest and real."""

from collections import deque

import pytest
from chain_benches import sample, wrong

from interlock.chain import ir, reference
from interlock.chain.compile import compile_bench
from interlock.chain.explore import explore
from interlock.chain.layout import TooWide
from interlock.chain.observers import latched, lawful_reset, observers
from interlock.chain.requirement import Requirement
from interlock.chain.watched import Watched, watch

MANY = 1_000_000
SMALL = wrong("03_one_sto_input_bridged.yaml")


def product(required: Requirement, limit: int = MANY) -> Watched:
    chain = required.compiled.chain
    return watch(chain, explore(chain, MANY), observers(required), limit)


@pytest.fixture(scope="module")
def required() -> Requirement:
    return Requirement(SMALL, compile_bench(SMALL))


@pytest.fixture(scope="module")
def watched(required: Requirement) -> Watched:
    return product(required)


def plainly(required: Requirement) -> tuple[list[reference.State], list[tuple[int, int, int]]]:
    chain, watching = required.compiled.chain, observers(required)
    start = reference.start(chain)
    blank = {observer.field.name: observer.field.start for observer in watching}
    nodes = [reference.watch(watching, {**start, **blank}, start, None)]
    edges, todo = [], deque([0])
    while todo:
        number = todo.popleft()
        devices = {field.name: nodes[number][field.name] for field in chain.fields}
        for event, after in reference.successors(chain, devices):
            node = reference.watch(watching, nodes[number], after, event)
            if node not in nodes:
                todo.append(len(nodes))
                nodes.append(node)
            edges.append((number, event, nodes.index(node)))
    return nodes, edges


def test_the_product_is_that_of_the_plain_interpreter(required: Requirement, watched: Watched) -> None:
    nodes, edges = plainly(required)
    assert [watched.unpack(node) for node in range(len(watched.state))] == nodes
    found = zip(watched.source.tolist(), watched.event.tolist(), watched.target.tolist(), strict=True)
    assert list(found) == edges


def test_terms_over_edges_mean_what_the_plain_interpreter_says(
    required: Requirement, watched: Watched
) -> None:
    terms = [
        lawful_reset(required),
        ir.rises(required.permit("pump")),
        ir.all_of([ir.was(latched("hood_stop")), ir.no(latched("hood_stop"))]),
        required.acts_on(["hood"]),
        ir.any_of([required.late(), ir.no(required.any_demand())]),
    ]
    for term in terms:
        found = watched.edges_where(term).tolist()
        for edge, truth in enumerate(found):
            was, now = (watched.unpack(int(ends[edge])) for ends in (watched.source, watched.target))
            assert reference.holds(term, was, now, int(watched.event[edge])) is truth
        assert len(found) == len(watched.source)


def test_terms_over_nodes_mean_what_the_plain_interpreter_says(
    required: Requirement, watched: Watched
) -> None:
    for term in (latched("halt_stop"), required.any_demand(), ir.no(required.torque("brake")), ir.TRUE):
        for node, truth in enumerate(watched.nodes_where(term).tolist()):
            state = watched.unpack(node)
            assert reference.holds(term, state, state) is truth


def test_a_term_about_an_event_has_no_truth_in_a_node(required: Requirement, watched: Watched) -> None:
    with pytest.raises(TypeError, match="more than the present"):
        watched.nodes_where(lawful_reset(required))


def test_a_way_leads_from_power_up_step_by_step(watched: Watched) -> None:
    for node in range(len(watched.state)):
        at = 0
        for edge in watched.way_to(node):
            assert watched.source[edge] == at
            at = int(watched.target[edge])
        assert at == node == watched.end(watched.way_to(node))


def test_no_way_is_shorter(watched: Watched) -> None:
    distance, level = {0: 0}, [0]
    while level:
        ahead = []
        for node in level:
            for target in watched.target[watched.source == node].tolist():
                if target not in distance:
                    distance[target] = distance[node] + 1
                    ahead.append(target)
        level = ahead
    assert [len(watched.way_to(node)) for node in range(len(watched.state))] == [
        distance[node] for node in range(len(watched.state))
    ]


def test_a_way_over_an_edge_ends_with_it(watched: Watched) -> None:
    last = len(watched.source) - 1
    assert watched.way_over(last)[-1] == last
    assert watched.way_over(last)[:-1] == watched.way_to(int(watched.source[last]))


@pytest.mark.parametrize("limit", [0, 1, 10, 50])
def test_a_limit_leaves_nodes_unexpanded_and_says_so(
    required: Requirement, watched: Watched, limit: int
) -> None:
    part = product(required, limit)
    assert watched.whole
    assert not part.whole
    count = int(part.expanded.sum())
    assert part.expanded.tolist() == [True] * count + [False] * (len(part.state) - count)
    assert set(part.source.tolist()) <= set(range(count))


def test_a_graph_with_missing_states_makes_the_product_incomplete(required: Requirement) -> None:
    chain = required.compiled.chain
    graph = explore(chain, 20)
    part = watch(chain, graph, observers(required), MANY)
    assert not part.whole
    assert not part.expanded[part.state >= graph.expanded].any()
    assert part.expanded[part.state < graph.expanded].all()


def test_too_much_to_remember_is_refused(required: Requirement) -> None:
    many = tuple(
        ir.Observer(ir.Field(f"bit {number}", ("no", "yes"), "no"), ((required.any_demand(), "yes"),))
        for number in range(60)
    )
    chain = required.compiled.chain
    with pytest.raises(TooWide):
        watch(chain, explore(chain, MANY), many, MANY)


def test_observers_do_not_change_what_the_bench_does() -> None:
    required = Requirement(sample(), compile_bench(sample()))
    watched = product(required)
    graph = watched.graph
    assert set(watched.state.tolist()) == set(range(len(graph.states)))
    assert set(watched.step.tolist()) == set(range(len(graph.source)))


def test_the_parent_of_a_node_is_its_first_edge(watched: Watched) -> None:
    first: dict[int, int] = {}
    for edge, node in enumerate(watched.target.tolist()):
        first.setdefault(node, edge)
    first[0] = -1
    assert watched.parent.tolist() == [first.get(node, -1) for node in range(len(watched.state))]


def test_the_event_of_one_edge_is_that_of_all(watched: Watched) -> None:
    some = range(0, len(watched.source), 37)
    assert [watched.event_of(edge) for edge in some] == watched.event[list(some)].tolist()
    assert {type(watched.event_of(edge)) for edge in some} == {int}


def test_what_was_and_is_remembered_is_told_of_each_edge(required: Requirement, watched: Watched) -> None:
    """Terms over memories before and after an edge, by themselves and with devices and events, state by state."""
    memories = [one.field for one in observers(required)]
    pairs = zip(watched.source.tolist(), watched.target.tolist(), strict=True)
    ends = [(watched.unpack(one), watched.unpack(other)) for one, other in pairs]
    for field in memories:
        values = frozenset(field.values[1:])
        for term, expected in (
            (ir.Was(field.name, values), [was[field.name] in values for was, _ in ends]),
            (ir.Now(field.name, values), [now[field.name] in values for _, now in ends]),
        ):
            assert watched.edges_where(term).tolist() == expected
    one, other = memories[0], memories[-1]
    both = ir.all_of(
        [ir.Was(one.name, frozenset(one.values[1:])), ir.no(ir.Now(other.name, frozenset(other.values[1:])))]
    )
    assert watched.edges_where(both).tolist() == [
        was[one.name] in one.values[1:] and now[other.name] not in other.values[1:] for was, now in ends
    ]
