"""Which faults a walk over the bench shows: what is observed differs from what the sound bench would show."""

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from interlock.procedure.faulted import Faulted
from interlock.procedure.features import Features
from interlock.procedure.moves import Table
from interlock.procedure.walkway import Walkway, Way

__all__ = ["Reveal", "first_shown"]


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
class Reveal:
    """The sound bench beside the same bench with one fault: where the fault would show, and the ways there."""

    chain: Faulted
    features: Features
    table: Table
    walkway: Walkway

    def start(self, fault: int) -> int:
        """The state at rest in which the faulty bench powers up."""
        return int(self.table.rest[self.chain.first[fault + 1]])

    def differs(self, place: int, state: int) -> bool:
        """What is observed at the place is not what the faulty bench shows in its state."""
        return bool(self.features.seen[self.walkway.places[place][0]] != self.features.seen[state])

    def follow(self, state: int, ways: Sequence[Way]) -> int:
        """Where the faulty bench comes to by the moves of the ways."""
        for way in ways:
            state = int(self.table.target[way.move, state])
        return state

    def where(self, fault: int) -> frozenset[int] | None:
        """The ways on one of which any walk must show the fault first; empty: no walk does; None: power-up does."""
        if self.differs(0, self.start(fault)):
            return None
        return frozenset(
            way.number for way, state in self._ways(0, self.start(fault)) if self._shows(way, state)
        )

    def shortest(self, place: int, state: int) -> tuple[Way, ...]:
        """The cheapest-in-moves ways from here that show the fault; empty if there are none."""
        before: dict[tuple[int, int], tuple[tuple[int, int], Way] | None] = {(place, state): None}
        waiting = deque([(place, state)])
        while waiting:
            here = waiting.popleft()
            for way in self.walkway.leaving[here[0]]:
                to = (way.target, int(self.table.target[way.move, here[1]]))
                if to in before:
                    continue
                before[to] = (here, way)
                if self.differs(*to):
                    return tuple(_back(before, to))
                waiting.append(to)
        return ()

    def _shows(self, way: Way, state: int) -> bool:
        return self.differs(way.target, int(self.table.target[way.move, state]))

    def _ways(self, place: int, state: int) -> Iterator[tuple[Way, int]]:
        """Every way that can be gone while the fault has not shown, with the faulty bench's state before it."""
        met, waiting = {(place, state)}, [(place, state)]
        while waiting:
            at, faulty = waiting.pop()
            for way in self.walkway.leaving[at]:
                yield way, faulty
                to = (way.target, int(self.table.target[way.move, faulty]))
                if to not in met and not self.differs(*to):
                    met.add(to)
                    waiting.append(to)


def _back(
    before: dict[tuple[int, int], tuple[tuple[int, int], Way] | None], at: tuple[int, int]
) -> list[Way]:
    ways: list[Way] = []
    while (came := before[at]) is not None:
        at, way = came
        ways.append(way)
    return ways[::-1]
