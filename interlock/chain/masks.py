"""Sets of fault sets, each kept once and known by a number: 0 is none of them, 1 is all."""

from typing import Final

import numpy as np

from interlock.chain.explore import Numbers
from interlock.chain.fault_sets import Bits, FaultSets

__all__ = ["ALL", "NONE", "Masks"]

NONE: Final = 0
ALL: Final = 1


class Masks:
    """Rows of bits by number."""

    def __init__(self, sets: FaultSets) -> None:
        self._rows = np.zeros((64, sets.width), np.uint64)
        self._number: dict[bytes, int] = {}
        self._every = sets.every
        self.numbers(np.stack([np.zeros_like(sets.every), sets.every]))

    @property
    def bits(self) -> Bits:
        """The bits of each mask, by its number."""
        return self._rows

    def numbers(self, rows: Bits) -> Numbers:
        """The number of the mask with these bits, for each row (bits beyond the sets are cleared)."""
        clean = np.ascontiguousarray(rows & self._every)
        return np.fromiter((self._of(one) for one in clean), np.int64, len(clean))

    def _of(self, row: Bits) -> int:
        key = row.tobytes()
        number = self._number.setdefault(key, len(self._number))
        if number == len(self._rows):
            self._rows = np.concatenate([self._rows, np.zeros_like(self._rows)])
        self._rows[number] = row
        return number
