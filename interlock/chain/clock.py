"""What can the bench still be in later than a limit after a demand began, if every late reaction takes its time?

A late reaction counts from the moment when it becomes due, and comes then or sooner. People may act at any moment.
So the latest moment at which something can happen is when the first of the reactions that are due must have come;
where none is due, it has no end. What can last longer than the limit is late, and so is all that follows while
the demand goes on.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.stepping import Numbers

__all__ = ["NEVER", "Delayed", "Overdue", "overdue"]

NEVER: Final = int(np.iinfo(np.int64).max)
_MOST: Final = 1 << 22  # moments looked at, beyond which the search says that it was not whole


@dataclass(frozen=True, slots=True)
class Delayed:
    """The nodes in which a demand goes on, and the edges between them, sorted by their source.

    `which` is the column of the reaction that an edge is, or -1 for whatever else happens. `due` holds a row for
    each node and a column for each reaction that comes within the limit, `delays_ns` its delay. `entry` and `steps`
    tell of each way into the demand the node, and the steps from power-up to it.
    """

    source: Numbers
    target: Numbers
    which: Numbers
    due: Truths
    delays_ns: Numbers
    entry: Numbers
    steps: Numbers


@dataclass(frozen=True, slots=True)
class Overdue:
    """Where and after how many steps the bench is late first; `whole`: everything was looked at."""

    late_at: Numbers  # of each node, in steps from power-up; NEVER if it is never late there
    whole: bool
    _last: Numbers  # of each node: the moment in which it is late first
    _before: Numbers  # of each moment: the one before; of a first one, -1 less the number of its entry
    _edge: Numbers  # of each moment: the edge that led to it

    def first(self, bad: Truths) -> int | None:
        """The node among these that is late after the fewest steps."""
        at = np.where(bad, self.late_at, NEVER)
        node = int(np.argmin(at)) if at.size else 0
        return node if at.size and at[node] != NEVER else None

    def first_of_each(self, bad: Truths, kind: Numbers) -> list[int]:
        """Of each kind of node the one among the bad ones that is late after the fewest steps, if there is one."""
        late = np.flatnonzero(bad & (self.late_at != NEVER))
        order = late[np.lexsort((late, self.late_at[late], kind[late]))]
        _, first = np.unique(kind[order], return_index=True)
        found: list[int] = order[first].tolist()
        return found

    def way(self, node: int) -> tuple[int, tuple[int, ...]]:
        """By which entry and then which edges one comes to a node that is late."""
        edges, at = list[int](), int(self._last[node])
        while (before := int(self._before[at])) >= 0:
            edges.append(int(self._edge[at]))
            at = before
        return -1 - before, tuple(reversed(edges))


def overdue(graph: Delayed, within_ns: int) -> Overdue:
    """Which nodes can last beyond the limit, counted from the entry into the demand."""
    return _Search(graph, within_ns).run()


@dataclass(frozen=True, slots=True)
class _Moments:
    """Nodes with the latest ends of what is due in them, in ns since the demand began, at most just over the limit."""

    node: Numbers
    ends: Numbers
    before: Numbers
    edge: Numbers

    def at(self, rows: Truths) -> "_Moments":
        return _Moments(self.node[rows], self.ends[rows], self.before[rows], self.edge[rows])


@dataclass(slots=True)
class _Search:
    graph: Delayed
    within_ns: int
    late_at: Numbers = field(init=False)
    last: Numbers = field(init=False)
    first: Numbers = field(init=False)  # the first edge of each node, and the end
    seen: set[bytes] = field(default_factory=set)
    kept: list[_Moments] = field(default_factory=list)
    count: int = 0

    def __post_init__(self) -> None:
        nodes = len(self.graph.due)
        self.late_at, self.last = np.full(nodes, NEVER), np.full(nodes, -1, np.int64)
        self.first = np.searchsorted(self.graph.source, np.arange(nodes + 1))

    def run(self) -> Overdue:
        begins = {int(one): np.flatnonzero(self.graph.steps == one) for one in np.unique(self.graph.steps)}
        level, waiting = min(begins, default=0), self._begun(np.empty(0, np.int64))
        while (len(waiting.node) or begins) and self.count <= _MOST:
            if (entries := begins.pop(level, None)) is not None:
                waiting = _joined(self._begun(entries), waiting)
            waiting = self._on(self._fresh(waiting, level))
            level += 1
        kept = [self._begun(np.empty(0, np.int64)), *self.kept]
        before, edge = (np.concatenate([getattr(one, name) for one in kept]) for name in ("before", "edge"))
        return Overdue(self.late_at, not len(waiting.node) and not begins, self.last, before, edge)

    def _begun(self, entries: Numbers) -> _Moments:
        """The demand begins: whatever is due may have become due just now."""
        node = self.graph.entry[entries]
        ends = np.where(self.graph.due[node], self.graph.delays_ns, 0)
        return _Moments(node, ends, -1 - entries, np.full(len(entries), -1))

    def _fresh(self, found: _Moments, level: int) -> _Moments:
        """What is new of these moments, each once; nothing of a node that is late already."""
        found = found.at(self.late_at[found.node] == NEVER)
        ends, late = found.ends.copy(), self._deadline(found) > self.within_ns
        ends[late] = self.within_ns + 1
        table = np.ascontiguousarray(np.column_stack([found.node, ends]))
        new = np.zeros(len(table), np.bool_)
        for at, row in enumerate(table):
            if (key := row.tobytes()) not in self.seen:
                self.seen.add(key)
                new[at] = True
        found = _Moments(found.node, ends, found.before, found.edge).at(new)
        rows = np.flatnonzero(late[new])
        self.late_at[found.node[rows]] = level
        self.last[found.node[rows]] = self.count + rows
        self.kept.append(found)
        self.count += len(found.node)
        return found

    def _deadline(self, moments: _Moments) -> Numbers:
        """When the first of what is due must have come; beyond the limit if nothing is."""
        ends = np.where(self.graph.due[moments.node], moments.ends, self.within_ns + 1)
        deadline: Numbers = np.min(ends, axis=1, initial=self.within_ns + 1)
        return deadline

    def _on(self, moments: _Moments) -> _Moments:
        """Everything that can happen next while the demand goes on, each at the latest."""
        graph, first = self.graph, self.first[moments.node]
        count = self.first[moments.node + 1] - first
        row = np.repeat(np.arange(len(count)), count)
        edge = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + first[row]
        node, fired = graph.target[edge], graph.which[edge]
        goes_on = graph.due[moments.node[row]] & graph.due[node]
        reaction = np.flatnonzero(fired >= 0)
        goes_on[reaction, fired[reaction]] = False
        anew = self._deadline(moments)[row][:, None] + graph.delays_ns
        ends = np.where(goes_on, moments.ends[row], anew)
        ends = np.where(graph.due[node], np.minimum(ends, self.within_ns + 1), 0)
        return _Moments(node, ends, row + self.count - len(moments.node), edge)


def _joined(one: _Moments, other: _Moments) -> _Moments:
    return _Moments(
        np.concatenate([one.node, other.node]),
        np.concatenate([one.ends, other.ends]),
        np.concatenate([one.before, other.before]),
        np.concatenate([one.edge, other.edge]),
    )
