"""A chain's graph together with what observers remember of the way: the states in which properties are judged."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir, reference
from interlock.chain.arrays import Atom, Truths, evaluate
from interlock.chain.explore import Graph, Numbers
from interlock.chain.frontier import Frontier
from interlock.chain.layout import Layout, TooWide, Words

__all__ = ["Watched", "parents", "watch"]

_ATOMS: Final = 1 << 28  # bytes of truths that are kept


@dataclass(frozen=True, slots=True)
class Watched:
    """Nodes are (state, memory) pairs, the first is power-up; edges are sorted by their source.

    Nodes are numbered breadth first, so the first edge or node that shows something is nearest to power-up.
    """

    graph: Graph
    memory_layout: Layout
    state: Numbers  # of each node, in graph.states
    memory: Words  # of each node
    source: Numbers  # of each edge, a node
    step: Numbers  # of each edge, an edge of the graph
    target: Numbers  # of each edge, a node
    parent: Numbers  # of each node, the edge by which it was first reached; -1 at power-up
    expanded: Truths  # of each node: all its edges are there
    shortfall: str = ""  # at what the search ended before it was whole
    _atoms: dict[Atom, Truths] = field(default_factory=dict)

    def nodes_where(self, term: ir.Term) -> Truths:
        """Whether a term about the present holds, for each node."""

        def atom(one: Atom) -> Truths:
            if not isinstance(one, ir.Now):
                raise TypeError(f"{one} speaks of more than the present")
            if one.field in self.memory_layout.places:
                return self.memory_layout.within(self.memory, one.field, one.values)
            return self.graph.layout.within(self.graph.states, one.field, one.values)[self.state]

        return evaluate(term, len(self.state), atom)

    def edges_where(self, term: ir.Term) -> Truths:
        """Whether a term about an event holds, for each edge."""

        def remembered(one: ir.Now | ir.Was) -> Truths:
            ends = self.source if isinstance(one, ir.Was) else self.target
            return self.memory_layout.within(self.memory, one.field, one.values)[ends]

        return _Rows(self.graph, self.memory_layout, self.step, self._atoms).where(term, remembered)

    @property
    def nbytes(self) -> int:
        """What nodes and edges take, without the graph."""
        parts = (self.state, self.memory, self.source, self.step, self.target, self.parent)
        return sum(part.nbytes for part in parts)

    @property
    def whole(self) -> bool:
        """Every reachable node is there."""
        return bool(self.expanded.all())

    @property
    def steps(self) -> int:
        """How many steps from power-up all that can happen is there, where not every node is."""
        return len(self.way_to(int(np.argmin(self.expanded))))

    @property
    def event(self) -> Numbers:
        """The event of each edge."""
        return self.graph.event[self.step]

    def event_of(self, edge: int) -> int:
        """The event of one edge, which costs nothing."""
        return int(self.graph.event[self.step[edge]])

    def late_from(self, node: int, events: Sequence[ir.Event]) -> list[int]:
        """The edges of the late reactions that are due in a node."""
        first, end = np.searchsorted(self.source, [node, node + 1])
        return [edge for edge in range(first, end) if events[self.event_of(edge)].kind is ir.EventKind.LATE]

    def way_to(self, node: int) -> tuple[int, ...]:
        """The edges of a shortest way from power-up to a node."""
        way: list[int] = []
        while node:
            edge = int(self.parent[node])
            way.append(edge)
            node = int(self.source[edge])
        return tuple(reversed(way))

    def way_over(self, edge: int) -> tuple[int, ...]:
        """The edges of a shortest way from power-up that ends with this one."""
        return (*self.way_to(int(self.source[edge])), edge)

    def end(self, way: tuple[int, ...]) -> int:
        """The node in which a way from power-up ends."""
        return int(self.target[way[-1]]) if way else 0

    def unpack(self, node: int) -> reference.State:
        """The state of every device and observer in a node."""
        return {
            **self.graph.unpack(int(self.state[node])),
            **self.memory_layout.unpack(int(self.memory[node])),
        }


def watch(
    chain: ir.Chain,
    graph: Graph,
    observers: tuple[ir.Observer, ...],
    limit: int,
    atoms: dict[Atom, Truths] | None = None,
    most_bytes: int | None = None,
) -> Watched:
    """Every node that can be reached, or `limit` of them, or as many as the memory holds.

    `atoms` keeps truths over the graph's edges.
    """
    atoms = {} if atoms is None else atoms
    layout = Layout([observer.field for observer in observers])
    if (needed := layout.bits + len(graph.states).bit_length()) > 63:
        raise TooWide(needed, 63)
    bits, low = np.uint64(layout.bits), np.uint64((1 << layout.bits) - 1)
    first_node = np.array([_first_memory(chain, observers, layout)], dtype=np.uint64)
    frontier = Frontier(first_node, limit, most_bytes=most_bytes)
    for first, words in frontier:
        row, step = _edges_of(graph, (words >> bits).astype(np.int64))
        memory = _remember(_Rows(graph, layout, step, atoms), observers, (words & low)[row])
        frontier.add(row + first, step, (graph.target[step].astype(np.uint64) << bits) | memory)
    source, step, target = frontier.edges()
    words = frontier.words()
    state = (words >> bits).astype(np.int64)
    expanded = (np.arange(len(words)) < frontier.expanded) & (state < graph.expanded)
    parent = parents(target, len(words))
    why = frontier.shortfall or graph.shortfall
    return Watched(graph, layout, state, words & low, source, step, target, parent, expanded, why, atoms)


def parents(target: Numbers, nodes: int) -> Numbers:
    """Of each node the first edge that leads to it; -1 at power-up."""
    parent = np.full(nodes, -1, np.int64)
    parent[target[::-1]] = np.arange(len(target))[::-1]  # of several edges to a node the first one stays
    parent[0] = -1
    return parent


def _first_memory(chain: ir.Chain, observers: tuple[ir.Observer, ...], layout: Layout) -> int:
    now = reference.start(chain)
    was = {**now, **{observer.field.name: observer.field.start for observer in observers}}
    return layout.pack(reference.watch(observers, was, now, None))


def _edges_of(graph: Graph, states: Numbers) -> tuple[Numbers, Numbers]:
    """For each state in turn its edges: the row of the state, the number of the edge."""
    first = graph.first_edge[states]
    count = graph.first_edge[states + 1] - first
    row = np.repeat(np.arange(len(states)), count)
    within = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    return row, first[row] + within


@dataclass(frozen=True, slots=True)
class _Rows:
    graph: Graph
    memory_layout: Layout
    step: NDArray[np.int64]
    atoms: dict[Atom, Truths]  # of devices and events, for each edge of the graph

    def where(self, term: ir.Term, remembered: Callable[[ir.Now | ir.Was], Truths]) -> Truths:
        """`remembered` tells the truth of what observers remember before and after each edge."""

        def atom(one: Atom) -> Truths:
            if not isinstance(one, ir.By) and one.field in self.memory_layout.places:
                return remembered(one)
            if one not in self.atoms:
                if len(self.atoms) * len(self.graph.source) > _ATOMS:
                    self.atoms.clear()
                self.atoms[one] = _of_graph(self.graph, one)
            return self.atoms[one][self.step]

        return evaluate(term, len(self.step), atom)


def _of_graph(graph: Graph, one: Atom) -> Truths:
    match one:
        case ir.By(events):
            return np.isin(graph.event, sorted(events))
        case ir.Was(field, values):
            return graph.layout.within(graph.states, field, values)[graph.source]
        case ir.Now(field, values):
            return graph.layout.within(graph.states, field, values)[graph.target]


def _remember(rows: _Rows, observers: tuple[ir.Observer, ...], was: Words) -> Words:
    now = was

    def remembered(one: ir.Now | ir.Was) -> Truths:
        return rows.memory_layout.within(was if isinstance(one, ir.Was) else now, one.field, one.values)

    for observer in observers:
        after, free = now, np.ones(len(now), dtype=np.bool_)
        for term, value in observer.updates:
            hit = free & rows.where(term, remembered)
            free &= ~hit
            after = np.where(hit, rows.memory_layout.put(after, observer.field.name, value), after)
        now = after
    return now
