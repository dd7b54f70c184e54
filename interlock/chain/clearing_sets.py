"""Faults that come and go, alone or beside one that lasts, as sets with numbers."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.fault_sets import Bits, FaultSets

__all__ = ["ComingAndGoing"]

_ROWS: Final = 1 << 23  # unpacked bits at a time, which bounds memory


class ComingAndGoing(FaultSets):
    """No fault; each fault that comes and goes, there or gone; each lasting one; and each pair of the two kinds.

    A lasting fault may arrive before the other one, while it is there, or after it has gone.
    """

    def __init__(self, going: Sequence[str], lasting: Sequence[str] = ()) -> None:
        names = list(dict.fromkeys([*going, *lasting]))
        super().__init__(names, 0)
        self.going, self.lasting = tuple(going), tuple(lasting)
        place = {name: at for at, name in enumerate(names)}
        alone = [(one, gone, None) for gone in (False, True) for one in going]
        beside = [
            (one, gone, other) for gone in (False, True) for one in going for other in lasting if one != other
        ]
        self.each: list[tuple[str | None, bool, str | None]] = [
            (None, False, None),
            *alone,
            *((None, False, one) for one in lasting),
            *beside,
        ]
        """Of each set the fault that comes and goes, whether it has gone, and the lasting one."""
        self.sets = tuple(
            tuple(sorted(place[one] for one in (None if gone else coming, other) if one is not None))
            for coming, gone, other in self.each
        )
        self._number = {one: number for number, one in enumerate(self.each)}
        self.width = -(-len(self.each) // 64)
        self.every = self.pack(np.ones((1, len(self.each)), np.bool_))[0]
        self._present: dict[str, Bits] = {
            name: self.pack(np.array([[place[name] in one for one in self.sets]]))[0] for name in names
        }
        before = [self.within(number) for number in range(len(self.each))]
        self._first = np.array([one[0] if one else 0 for one in before])
        self._second = np.array([one[-1] if one else 0 for one in before])

    def number_of(self, going: str | None, *, gone: bool = False, lasting: str | None = None) -> int:
        """The number of a set; KeyError if there is none."""
        return self._number[going, gone, lasting]

    def having(self, fault: str) -> Bits:
        """One row: the sets in which the fault is there."""
        return self._present[fault]

    def has_gone(self, number: int) -> bool:
        """In the set of this number the fault that comes and goes was there and has gone."""
        return self.each[number][1]

    def within(self, number: int) -> list[int]:
        """The sets from which one arrival or one departure leads to this one."""
        coming, gone, other = self.each[number]
        found: list[tuple[str | None, bool, str | None]] = [] if other is None else [(coming, gone, None)]
        if coming is not None:
            found.append((coming, False, other) if gone else (None, False, other))
        return [self._number[one] for one in found]

    def one_more(self, bits: Bits) -> Bits:
        """The sets that arise from those of each row when a fault arrives, or the one that may go goes."""
        grown, rows = np.zeros_like(bits), max(1, _ROWS // len(self.each))
        for at in range(0, len(bits), rows):
            held = self.unpack(bits[at : at + rows])
            after: Truths = held[:, self._first] | held[:, self._second]
            after[:, 0] = False
            grown[at : at + rows] = self.pack(after)
        return grown
