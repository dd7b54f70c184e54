"""Does what must not last come later after its demand than allowed, though late reactions end it each time?"""

from dataclasses import dataclass

import numpy as np

from interlock.chain import ir
from interlock.chain.arrays import Truths
from interlock.chain.clock import Delayed, overdue
from interlock.chain.compile import waits
from interlock.chain.property import NeverLasts
from interlock.chain.stepping import Numbers
from interlock.chain.watched import Watched

__all__ = ["ByClock", "by_clock"]


@dataclass(frozen=True, slots=True)
class ByClock:
    """The edges from power-up to the nearest such state, and who is at fault; nothing if there is none.

    `again`: within the same demand all was in order before. `whole`: everything was looked at.
    """

    way: tuple[int, ...] | None = None
    culprits: tuple[str, ...] = ()
    again: bool = False
    whole: bool = True


def by_clock(watched: Watched, events: tuple[ir.Event, ...], claim: NeverLasts) -> ByClock:
    """The nearest state that must not last and can be there beyond the limit, counted from the demand on."""
    every = {name: watched.nodes_where(term) for name, term in claim.culprits.items()}
    bad = {name: nodes for name, nodes in every.items() if nodes.any()}
    if claim.within_ns is None or not bad:
        return ByClock()
    timed = _Timed(watched, events, claim.within_ns, watched.edges_where(claim.begins))
    if claim.during is None:
        found = [timed.nearest(nodes, nodes) for nodes in bad.values()]
    else:
        either: Truths = np.logical_or.reduce(list(bad.values()))
        found = [timed.nearest(watched.nodes_where(claim.during), either)]
    ways = [way for way, _ in found if way is not None]
    if not ways:
        return ByClock(whole=all(whole for _, whole in found))
    way = min(ways, key=len)
    end = watched.end(way)
    guilty = tuple(name for name, nodes in bad.items() if nodes[end])
    return ByClock(way, guilty, _again(watched, claim, way))


def _again(watched: Watched, claim: NeverLasts, way: tuple[int, ...]) -> bool:
    """Since the demand began for the last time on the way, there was a moment without any of the culprits."""
    if claim.during is None:
        return False
    nodes = [0, *(int(watched.target[edge]) for edge in way)]
    during, bad = watched.nodes_where(claim.during), watched.nodes_where(ir.any_of(claim.culprits.values()))
    for node in reversed(nodes):
        if not during[node]:
            return False
        if not bad[node]:
            return True
    return False


@dataclass(frozen=True, slots=True)
class _Timed:
    watched: Watched
    events: tuple[ir.Event, ...]
    within_ns: int
    begins: Truths  # edges after which the time counts anew

    def nearest(self, during: Truths, bad: Truths) -> tuple[tuple[int, ...] | None, bool]:
        """The way to the nearest bad node that is late, and whether all was looked at."""
        graph, entries, edges = self._delayed(during)
        late = overdue(graph, self.within_ns)
        if (node := late.first(bad)) is None:
            return None, late.whole
        entry, then = late.way(node)
        begin = self.watched.way_over(int(entries[entry])) if entries[entry] >= 0 else ()
        return (*begin, *(int(edges[one]) for one in then)), late.whole

    def _delayed(self, during: Truths) -> tuple[Delayed, Numbers, Numbers]:
        """The demand; of each way into it the edge (-1: power-up); of each of its edges the number in `watched`.

        Late reactions beyond the limit say nothing of when, so they are left out of what is due.
        """
        watched, late = self.watched, enumerate(self.events)
        quick = [at for at, one in late if one.kind is ir.EventKind.LATE and one.delay_ns <= self.within_ns]
        column = np.full(len(self.events), -1, np.int64)
        column[quick] = np.arange(len(quick))
        stays = during[watched.target]
        inside = np.flatnonzero(stays & during[watched.source] & ~self.begins)
        enters = np.flatnonzero(stays & (~during[watched.source] | self.begins))
        due = [watched.nodes_where(waits(self.events[number])) for number in quick]
        entries = np.concatenate([np.full(int(during[0]), -1, np.int64), enters])
        graph = Delayed(
            watched.source[inside],
            watched.target[inside],
            column[watched.event[inside]],
            np.column_stack([np.zeros((len(during), 0), np.bool_), *due]),
            np.array([self.events[number].delay_ns for number in quick], np.int64),
            np.where(entries < 0, 0, watched.target[entries]),
            np.where(entries < 0, 0, _depths(watched)[watched.source[entries]] + 1),
        )
        return graph, entries, inside


def _depths(watched: Watched) -> Numbers:
    """Steps from power-up to each node; nodes are numbered breadth first."""
    depths = np.zeros(len(watched.state), np.int64)
    before = watched.source[watched.parent[1:]]
    end, level = 1, 0
    while end < len(depths):
        more = 1 + int(np.searchsorted(before, end))
        depths[end:more] = level = level + 1
        end = more
    return depths
