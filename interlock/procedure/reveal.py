"""Which faults a walk over the bench shows: what is observed differs from what the sound bench would show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from interlock.procedure.alike import Alike
from interlock.procedure.bound import FAR, Left, cheapest_on
from interlock.procedure.faulted import Faulted
from interlock.procedure.features import Features
from interlock.procedure.moves import Table
from interlock.procedure.walkway import Walkway, Way

__all__ = ["Beside", "first_shown"]


def first_shown(
    chain: Faulted, features: Features, tables: Sequence[Table], moves: Sequence[int]
) -> dict[str, int]:
    """For each fault that the moves show, whatever the order of contacts: after how many moves (0: power-up)."""
    found = [_shown(chain, features, table, moves) for table in tables]
    return {
        fault: max(one[fault] for one in found) for fault in found[0] if all(fault in one for one in found)
    }


def _shown(chain: Faulted, features: Features, table: Table, moves: Sequence[int]) -> dict[str, int]:
    at, seen = table.rest[chain.first], dict[str, int]()
    for count in range(len(moves) + 1):
        if count:
            at = table.target[moves[count - 1]][at]
        differs = features.seen[at[1:]] != features.seen[at[0]]
        for index in np.flatnonzero(differs).tolist():
            seen.setdefault(chain.faults[index].id, count)
    return seen


@dataclass(frozen=True, slots=True)
class Beside:
    """The sound bench beside the same bench with a fault, which is in a state of some class."""

    walkway: Walkway
    alike: Alike

    def sight(self, place: int) -> int:
        """What is observed of the sound bench at the place."""
        return self.alike.seen[int(self.alike.of[self.walkway.places[place][0]])]

    def shows(self, place: int, faulty: int) -> bool:
        """What is observed at the place is not what the faulty bench shows."""
        return self.sight(place) != self.alike.seen[faulty]

    def where(self, faulty: int) -> frozenset[int]:
        """The ways on one of which any walk must show the fault first; empty: no walk shows it."""
        return frozenset(
            way.number for _, way, after in self._steps([faulty]) if self.shows(way.target, after)
        )

    def onward(self, faults: Sequence[int], left: Left) -> dict[tuple[int, int], int]:
        """For each place and class that moves lead to while nothing shows: the way on that shows it, to an end.

        Reduced, in parts of a unit of cost, as `left`; no smaller number than FAR // 2: it cannot be shown any more.
        """
        number = {(0, fault): n for n, fault in enumerate(faults)}
        last, ways = dict.fromkeys(number, FAR), list[tuple[int, int, int]]()
        for before, way, after in self._steps(faults):
            reduced, to = left.reduced[way.number], (way.target, after)
            if self.shows(*to):
                last[before] = min(last[before], reduced + left.onward[way.target])
                continue
            last.setdefault(to, FAR)
            ways.append((number[before], number.setdefault(to, len(number)), reduced))
        source, target, cost = zip(*ways, strict=True) if ways else ((), (), ())
        best = cheapest_on(list(last.values()), source, target, cost)
        if best is None:
            raise AssertionError("a round trip of both benches is one of the sound bench")
        return dict(zip(number, best, strict=True))

    def _steps(self, faults: Sequence[int]) -> Iterator[tuple[tuple[int, int], Way, int]]:
        """Each way from where moves lead to while nothing shows, and the class of the faulty bench after it."""
        waiting = [(0, fault) for fault in faults]
        met = set(waiting)
        for before in waiting:  # grows while it is walked
            for way in self.walkway.leaving[before[0]]:
                after = self.alike.target[way.move][before[1]]
                yield before, way, after
                if (to := (way.target, after)) not in met and not self.shows(*to):
                    met.add(to)
                    waiting.append(to)
