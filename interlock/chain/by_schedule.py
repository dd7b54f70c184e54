"""What happens if nobody acts and each late reaction comes exactly when its stated time is over?

Elsewhere a late reaction may come at any moment up to its stated time. Whether one is over before another can only be
told by the times as they are stated. A reaction counts from the moment when it becomes due, for as long as it is due.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.property import NeverOnSchedule
from interlock.chain.watched import Watched

__all__ = ["by_schedule"]

_MOST: Final = 64  # late reactions one after the other that are followed


def by_schedule(
    watched: Watched, events: tuple[ir.Event, ...], claim: NeverOnSchedule
) -> tuple[int, ...] | None:
    """The edges of a shortest way from power-up that ends with an event which the claim forbids."""
    begins = np.flatnonzero(watched.edges_where(claim.begins))
    _, first = np.unique(watched.target[begins], return_index=True)
    schedule = _Schedule(watched, events, claim)
    ways = [
        (*watched.way_over(int(begins[one])), *then)
        for one in np.sort(first)
        if (then := schedule.to_culprit(int(watched.target[begins[one]]))) is not None
    ]
    return min(ways, key=len, default=None)


class _Schedule:
    def __init__(self, watched: Watched, events: tuple[ir.Event, ...], claim: NeverOnSchedule) -> None:
        self._watched, self._events = watched, events
        self._bad = watched.edges_where(ir.any_of(claim.culprits.values()))
        self._first = watched.edges_where(claim.first)

    def to_culprit(self, node: int) -> tuple[int, ...] | None:
        """The edges from a node on, up to the first that is forbidden."""
        now, due, way = 0, dict(self._late(node, 0)), list[int]()
        while due and len(way) < _MOST:
            now, _, event, edge = min(
                (at, not self._first[edge], event, edge) for event, (at, edge) in due.items()
            )
            way.append(edge)
            if self._bad[edge]:
                return tuple(way)
            fresh = dict(self._late(int(self._watched.target[edge]), now))
            due = {
                one: (due[one][0] if one in due and one != event else at, edge)
                for one, (at, edge) in fresh.items()
            }
        return None

    def _late(self, node: int, now: int) -> Iterator[tuple[int, tuple[int, int]]]:
        """Each late reaction that is due: when it comes if it counts from now, and its edge."""
        for edge in self._watched.late_from(node, self._events):
            event = self._watched.event_of(edge)
            yield event, (now + self._events[event].delay_ns, edge)
