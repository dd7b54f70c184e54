"""Faults that come and go, alone, beside one that lasts, or two of them, as sets with numbers."""

from collections.abc import Collection, Iterable, Sequence
from itertools import combinations
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from interlock.chain.arrays import Truths
from interlock.chain.fault_sets import Bits, FaultSets

__all__ = ["GONE", "STAYS", "THERE", "ComingAndGoing", "Member", "beside", "both", "coming"]

THERE: Final = "there"  # and may go
GONE: Final = "gone"
STAYS: Final = "stays"
Member = tuple[str, str]
"""A fault and its phase."""
_ROWS: Final = 1 << 23  # unpacked bits at a time, which bounds memory


class ComingAndGoing(FaultSets):
    """Faults in phases, one or two at a time: `there` leads to `gone`, and nothing else goes. Set 0 is the empty one.

    From one set to the next one fault arrives or goes; what would lead to a set that is not among them cannot be.
    """

    def __init__(self, each: Iterable[tuple[Member, ...]]) -> None:
        self.each: list[tuple[Member, ...]] = [(), *each]
        """Of each set its faults with their phases."""
        names = list(dict.fromkeys(name for one in self.each for name, _ in one))
        super().__init__(names, 0)
        place = {name: at for at, name in enumerate(names)}
        self.sets = tuple(
            tuple(sorted(place[name] for name, phase in one if phase != GONE)) for one in self.each
        )
        self.number_of = {one: number for number, one in enumerate(self.each)}
        self._sorted = {tuple(sorted(one)): number for number, one in enumerate(self.each)}
        self.width = -(-len(self.each) // 64)
        self.every = self.pack(np.ones((1, len(self.each)), np.bool_))[0]
        self._present: dict[str, Bits] = {
            name: self.pack(np.array([[at in one for one in self.sets]]))[0] for name, at in place.items()
        }
        before = [self.within(number) for number in range(len(self.each))]
        self._first = np.array([one[0] if one else 0 for one in before])
        self._second = np.array([one[-1] if one else 0 for one in before])

    def having(self, fault: str) -> Bits:
        """One row: the sets in which the fault is there."""
        return self._present[fault]

    def within(self, number: int) -> list[int]:
        """The sets from which one arrival or one departure leads to this one."""
        one, found = self.each[number], list[int]()
        for at, (name, phase) in enumerate(one):
            less = ((name, THERE),) if phase == GONE else ()
            before = (*one[:at], *less, *one[at + 1 :])
            found += [self.number_of[before]] if before in self.number_of else []
        return found

    def of(self, names: Collection[str]) -> "ComingAndGoing":
        """Those of the sets that hold faults of these names alone."""
        return ComingAndGoing(one for one in self.each[1:] if all(name in names for name, _ in one))

    def narrowed(self, part: Self) -> NDArray[np.int64]:
        """Of each set the number of those of its faults that the part has, each in its phase."""
        known = set(part.faults)
        kept = (tuple(member for member in one if member[0] in known) for one in self.each)
        return np.array([part.number_of[one] for one in kept], np.int64)

    def widened(self, part: Self, number: int, under: int) -> int:
        """The set with the members of a set of the part, and those of `under` that the part does not have."""
        known = set(part.faults)
        others = (one for one in self.each[under] if one[0] not in known)
        return self._sorted[tuple(sorted([*part.each[number], *others]))]

    def less(self, number: int) -> set[int]:
        """All sets from which some arrivals and departures lead to this one."""
        found, waiting = set[int](), [number]
        while waiting:
            waiting += [one for one in self.within(waiting.pop()) if one not in found]
            found.update(waiting)
        return found

    def one_more(self, bits: Bits) -> Bits:
        """The sets that arise from those of each row when a fault arrives, or one that may go goes."""
        grown, rows = np.zeros_like(bits), max(1, _ROWS // len(self.each))
        for at in range(0, len(bits), rows):
            held = self.unpack(bits[at : at + rows])
            after: Truths = held[:, self._first] | held[:, self._second]
            after[:, 0] = False
            grown[at : at + rows] = self.pack(after)
        return grown


def coming(going: Sequence[str]) -> list[tuple[Member, ...]]:
    """Each of the faults alone, there or gone."""
    return [((one, phase),) for phase in (THERE, GONE) for one in going]


def beside(going: Sequence[str], lasting: Sequence[str]) -> list[tuple[Member, ...]]:
    """And each beside one that lasts, which may arrive before it, while it is there, or after it has gone."""
    pairs = [(one, phase, other) for phase in (THERE, GONE) for one in going for other in lasting]
    return [
        *coming(going),
        *(((one, STAYS),) for one in lasting),
        *(((one, phase), (other, STAYS)) for one, phase, other in pairs if one != other),
    ]


def both(going: Sequence[str]) -> list[tuple[Member, ...]]:
    """And any two of them, in any order; or the same one, which comes and goes a second time."""
    phases = ((THERE, THERE), (GONE, THERE), (THERE, GONE), (GONE, GONE))
    pairs = [((one, now), (other, then)) for now, then in phases for one, other in combinations(going, 2)]
    again = [((one, GONE), (one, phase)) for phase in (THERE, GONE) for one in going]
    return [*coming(going), *pairs, *again]
