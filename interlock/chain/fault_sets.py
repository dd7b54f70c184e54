"""Sets of faults as columns of bits: bit n of a row says something of the n-th set."""

from collections.abc import Sequence
from functools import reduce
from itertools import combinations
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from interlock.chain.arrays import Truths
from interlock.chain.bitsets import count as count_bits

__all__ = ["Bits", "FaultSets"]

Bits = NDArray[np.uint64]
"""Rows of packed bits, `width` words each."""
_BLOCK: Final = 1 << 24  # unpacked bits at a time, which bounds memory
_ROWS: Final = 1 << 12
_WORD: Final = np.dtype("<u8")


class FaultSets:
    """Every set of at most `most` of the faults, smaller sets first; set 0 is the empty one."""

    def __init__(self, faults: Sequence[str], most: int) -> None:
        self.faults = tuple(faults)
        sizes = [list(combinations(range(len(faults)), size)) for size in range(most + 1)]
        self.sets: tuple[tuple[int, ...], ...] = tuple(one for size in sizes for one in size)
        self.number = {one: number for number, one in enumerate(self.sets)}
        self.width = -(-len(self.sets) // 64)
        self.every = self.pack(np.ones((1, len(self.sets)), np.bool_))[0]
        self._having = {name: self._with(number) for number, name in enumerate(faults)}
        self._less = sum(len(one) < most for one in self.sets)  # sets that can grow, the first of all
        self._growing = self.pack(np.array([[len(one) < most for one in self.sets]]))[0]
        self.parents = [
            self._parents(size) for size in sizes[1:]
        ]  # of sets of 1, 2, ... faults: those of one less

    def having(self, fault: str) -> Bits:
        """One row: the sets that hold the fault."""
        return self._having[fault]

    def within(self, number: int) -> list[int]:
        """The sets that hold one fault less than this one."""
        one = self.sets[number]
        return [self.number[one[:at] + one[at + 1 :]] for at in range(len(one))]

    def narrowed(self, part: Self) -> NDArray[np.int64]:
        """Of each set the number of those of its faults that the part has, among the sets of the part."""
        if part is self:
            return np.arange(len(self.sets))
        place = {name: at for at, name in enumerate(part.faults)}
        known = [place.get(name) for name in self.faults]
        found = (tuple(at for at in (known[member] for member in one) if at is not None) for one in self.sets)
        return np.array([part.number[one] for one in found], np.int64)

    def widened(self, part: Self, number: int, under: int) -> int:
        """The set that has the faults of a set of the part, and those of `under` that the part does not have."""
        place, known = {name: at for at, name in enumerate(self.faults)}, set(part.faults)
        mine = [place[part.faults[at]] for at in part.sets[number]]
        others = [at for at in self.sets[under] if self.faults[at] not in known]
        return self.number[tuple(sorted([*mine, *others]))]

    def pack(self, truths: Truths) -> Bits:
        """Rows of one truth for each set, packed."""
        rows = len(truths)
        padded = np.zeros((rows, self.width * 64), np.bool_)
        padded[:, : len(self.sets)] = truths
        packed: Bits = (
            np.packbits(padded, axis=1, bitorder="little").view(_WORD).astype(np.uint64, copy=False)
        )
        return packed

    def unpack(self, bits: Bits) -> Truths:
        """One truth for each set, in rows."""
        octets = np.ascontiguousarray(bits.astype(_WORD, copy=False)).view(np.uint8)
        return np.unpackbits(octets, axis=1, count=len(self.sets), bitorder="little").astype(np.bool_)

    def count(self, bits: Bits) -> int:
        """How many sets all rows together have."""
        return sum(count_bits(bits[at : at + _ROWS] & self.every) for at in range(0, len(bits), _ROWS))

    def one_more(self, bits: Bits) -> Bits:
        """The sets that arise from those of each row when one more fault arrives."""
        grown, rows = np.zeros_like(bits), max(1, _BLOCK // (self.width * 64))
        can_grow = np.flatnonzero((bits & self._growing).any(axis=1))
        for at in range(0, len(can_grow), rows):
            some = can_grow[at : at + rows]
            grown[some] = self._one_more(bits[some])
        return grown

    def _one_more(self, bits: Bits) -> Bits:
        """Worked out with a row for each set, so that whole rows are joined at a time."""
        words = -(-self._less // 64)
        octets = np.ascontiguousarray(bits[:, :words].astype(_WORD, copy=False)).view(np.uint8)
        held = np.unpackbits(octets, axis=1, count=self._less, bitorder="little").T.copy()
        grown, start = np.zeros((self.width * 64, len(bits)), np.uint8), 1
        for parents in self.parents:
            end = start + len(parents)
            if len(parents):
                grown[start:end] = reduce(np.bitwise_or, (held[column] for column in parents.T))
            start = end
        eights = grown.reshape(-1, 8, len(bits))
        packed = reduce(np.bitwise_or, (eights[:, bit] << np.uint8(bit) for bit in range(8)))
        found: Bits = np.ascontiguousarray(packed.T).view(_WORD).astype(np.uint64, copy=False)
        return found

    def _with(self, fault: int) -> Bits:
        packed: Bits = self.pack(np.array([[fault in one for one in self.sets]]))[0]
        return packed

    def _parents(self, size: Sequence[tuple[int, ...]]) -> NDArray[np.intp]:
        rows = [[self.number[one[:at] + one[at + 1 :]] for at in range(len(one))] for one in size]
        return np.array(rows, np.intp)
