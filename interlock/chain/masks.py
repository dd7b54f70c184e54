"""Sets of fault sets, each kept once and known by a number: 0 is none of them, 1 is all."""

from typing import Final

import numpy as np

from interlock.chain.explore import Numbers
from interlock.chain.fault_sets import Bits, FaultSets

__all__ = ["ALL", "NONE", "Masks"]

NONE: Final = 0
ALL: Final = 1


class Masks:
    """Rows of bits by number; what two of them have in common is looked up once."""

    def __init__(self, sets: FaultSets) -> None:
        self._rows = np.zeros((64, sets.width), np.uint64)
        self._number: dict[bytes, int] = {}
        self._common: dict[int, int] = {}
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

    def common(self, one: Numbers, other: Numbers) -> Numbers:
        """The masks of what two masks have in common, pair by pair."""
        found = np.where(one == ALL, other, np.where((other == ALL) | (one == other), one, NONE))
        hard = np.flatnonzero((one > ALL) & (other > ALL) & (one != other))
        if hard.size:
            low, high = np.minimum(one[hard], other[hard]), np.maximum(one[hard], other[hard])
            pairs, back = np.unique((low << 32) | high, return_inverse=True)
            found[hard] = self._pairs(pairs)[back]
        return found

    def _pairs(self, pairs: Numbers) -> Numbers:
        keys: list[int] = pairs.tolist()
        new = [key for key in keys if key not in self._common]
        if new:
            at = np.array(new, np.int64)
            both = self._rows[at >> 32] & self._rows[at & 0xFFFFFFFF]
            self._common.update(zip(new, self.numbers(both).tolist(), strict=True))
        return np.array([self._common[key] for key in keys], np.int64)

    def _of(self, row: Bits) -> int:
        key = row.tobytes()
        number = self._number.setdefault(key, len(self._number))
        if number == len(self._rows):
            self._rows = np.concatenate([self._rows, np.zeros_like(self._rows)])
        self._rows[number] = row
        return number
