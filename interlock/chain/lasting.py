"""Does a bad state last too long, by the delays of the late reactions that would end it?

A late reaction counts from the moment when it becomes due and takes its delay at most. Reactions that are due
together run side by side; one that becomes due by another begins only then, and their delays add up.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.arrays import Truths
from interlock.chain.stepping import Numbers
from interlock.chain.watched import Watched

__all__ = ["backwards", "lasting"]

_ROUNDS: Final = 64  # reactions one after the other; what takes more counts as lasting
_CHUNK: Final = 1 << 15


def lasting(watched: Watched, events: tuple[ir.Event, ...], bad: Truths, within_ns: int | None) -> Truths:
    """The bad nodes that late reactions cannot end within the limit (None: cannot end at all)."""
    good = ~bad | ~watched.expanded
    quick = [
        number
        for number, event in enumerate(events)
        if event.kind is ir.EventKind.LATE and (within_ns is None or event.delay_ns <= within_ns)
    ]
    edges = np.flatnonzero(watched.edges_where(ir.By(frozenset(quick))) & ~good[watched.source])
    ended = backwards(watched, good, edges)
    if within_ns is None or not edges.size:
        return bad & ~ended
    race = _Race(
        watched, edges, np.array(quick), np.array([events[one].delay_ns for one in quick]), good, within_ns
    )
    asked = np.flatnonzero(ended & ~good)
    late = [race.too_late(asked[at : at + _CHUNK]) for at in range(0, len(asked), _CHUNK)]
    ended[np.concatenate([*late, np.empty(0, np.int64)])] = False
    return bad & ~ended


def backwards(watched: Watched, goal: Truths, edges: Numbers) -> Truths:
    """The nodes from which some of the edges lead to the goal."""
    reached, source, target = goal.copy(), watched.source[edges], watched.target[edges]
    while True:
        news = reached[target] & ~reached[source]
        if not news.any():
            return reached
        reached[source[news]] = True


class _Race:
    """Late reactions against the limit, from many nodes at once."""

    def __init__(
        self,
        watched: Watched,
        edges: Numbers,
        quick: Numbers,
        delays: Numbers,
        good: Truths,
        within_ns: int,
    ) -> None:
        order = edges[np.argsort(watched.source[edges], kind="stable")]
        source = watched.source[order]
        self._target, self._which = (
            watched.target[order],
            np.searchsorted(quick, watched.graph.event[watched.step[order]]),
        )
        self._first = np.searchsorted(source, np.arange(len(good) + 1))
        self._due = np.zeros((len(good), len(quick)), np.bool_)
        self._due[source, self._which] = True
        self._delays, self._good, self._within_ns = delays, good, within_ns

    def too_late(self, origins: Numbers) -> Numbers:
        """Those of the nodes from which no order of the reactions comes to a good node in time."""
        open_ = np.ones(len(origins), np.bool_)
        now = np.zeros(len(origins), np.int64)
        runs = _Runs(np.arange(len(origins)), origins, now, now[:, None] + self._delays)
        for _ in range(_ROUNDS):
            runs = self._on(runs)
            open_[runs.origin[self._good[runs.node]]] = False
            runs = runs.chosen(open_[runs.origin])
            if not len(runs.node):
                break
        return origins[open_]

    def _on(self, runs: "_Runs") -> "_Runs":
        """Each run with each of the reactions that are due, as far as that is in time, each run once."""
        first = self._first[runs.node]
        count = self._first[runs.node + 1] - first
        row = np.repeat(np.arange(len(count)), count)
        edge = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + first[row]
        which, node = self._which[edge], self._target[edge]
        now = np.maximum(runs.now[row], runs.ends[row, which])
        goes_on = self._due[runs.node[row]] & self._due[node]
        goes_on[np.arange(len(row)), which] = False
        ends = np.where(goes_on, runs.ends[row], now[:, None] + self._delays)
        ends = np.where(self._due[node], ends, 0)
        made = _Runs(runs.origin[row], node, now, ends)
        return made.chosen(now <= self._within_ns).once()


@dataclass(frozen=True, slots=True)
class _Runs:
    origin: Numbers
    node: Numbers
    now: Numbers  # ns since the origin
    ends: Numbers  # a column for each reaction: when it comes at the latest, if it is due

    def chosen(self, rows: Truths) -> "_Runs":
        return _Runs(self.origin[rows], self.node[rows], self.now[rows], self.ends[rows])

    def once(self) -> "_Runs":
        if not len(self.node):
            return self
        table = np.column_stack([self.origin, self.node, self.now, self.ends])
        kept = np.unique(table, axis=0)
        return _Runs(kept[:, 0], kept[:, 1], kept[:, 2], kept[:, 3:])
