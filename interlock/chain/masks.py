"""Sets of fault sets, each kept once and known by a number: 0 is none of them, 1 is all."""

from collections.abc import Callable
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain.arrays import Truths
from interlock.chain.fault_sets import Bits, FaultSets
from interlock.chain.growing import Growing
from interlock.chain.pairs import UNKNOWN, Pairs
from interlock.chain.stepping import Numbers

__all__ = ["ALL", "NONE", "Held", "Masks"]

NONE: Final = 0
ALL: Final = 1
_NARROW: Final = 32  # words of bits up to which looking at them is quicker than looking them up
_CHUNK: Final = 1 << 18  # words of bits worked on at a time
_PLACES: Final = 1 << 24  # of a table of what masks have in common, at most


class Masks:
    """Rows of bits by number: under which sets something is possible. What two have in common is worked out once."""

    def __init__(self, sets: FaultSets) -> None:
        self._sets = sets
        self._rows = Growing(np.empty((0, sets.width), np.uint64))
        self._number: dict[bytes, int] = {}
        self._table: NDArray[np.int32] | None = np.full((64, 64), UNKNOWN, np.int32)  # mask by column: both
        self._column, self._used = np.full(64, UNKNOWN, np.int64), 0  # the column of each mask that has one
        self._pairs = Pairs()  # the same, once the table would be too large
        self.numbers(np.stack([np.zeros_like(sets.every), sets.every]))

    def __len__(self) -> int:
        return len(self._rows)

    @property
    def bits(self) -> Bits:
        """The bits of each mask, by its number."""
        return self._rows.rows

    @property
    def nbytes(self) -> int:
        """What the masks take; each row is also a key."""
        table = 0 if self._table is None else self._table.nbytes
        return 2 * self._rows.nbytes + table + self._pairs.nbytes

    def numbers(self, rows: Bits) -> Numbers:
        """The number of the mask with these bits, for each row (bits beyond the sets are cleared)."""
        clean = np.ascontiguousarray(rows & self._sets.every)
        keys: list[Any] = clean.view(np.dtype((np.void, clean.itemsize * clean.shape[1]))).ravel().tolist()
        found = list(map(self._number.get, keys))
        if None in found:
            new = dict.fromkeys(key for key, number in zip(keys, found, strict=True) if number is None)
            self._number |= zip(new, range(len(self), len(self) + len(new)), strict=True)
            self._rows.add(np.frombuffer(b"".join(new), np.uint64).reshape(len(new), -1))
            found = list(map(self._number.__getitem__, keys))
        return np.array(found, np.int64)

    def both(self, one: Numbers, other: Numbers) -> Numbers:
        """Row by row the number of what two masks have in common; `other` are few, as those of outcomes."""
        column = self._columns(other)
        if self._table is None:
            return self._looked_up(self._pairs, one, other, self._common)
        found = self._table[one, column].astype(np.int64)
        missing = np.flatnonzero(found == UNKNOWN)
        if missing.size:
            first, second, back = _pairs(one[missing], other[missing])
            values = self._common(first, second)
            self._table[first, self._column[second]] = values
            found[missing] = values[back]
        return found

    def _columns(self, other: Numbers) -> Numbers:
        """The column of the table for each of these masks; without a table, when it would grow too large, anything."""
        if self._table is None:
            return other
        if len(self) > len(self._column):
            more = np.full(len(self), UNKNOWN, np.int64)
            self._column = np.concatenate([self._column, more])
        column = self._column[other]
        if column.min(initial=0) == UNKNOWN:
            new = np.unique(other[column == UNKNOWN])
            self._column[new] = self._used + np.arange(len(new))
            self._used += len(new)
            column = self._column[other]
        self._table = _with_room(self._table, len(self), self._used)
        return column

    def _looked_up(
        self, known: Pairs, one: Numbers, other: Numbers, work: Callable[[Numbers, Numbers], Numbers]
    ) -> Numbers:
        found = known.get(one, other)
        missing = np.flatnonzero(found == UNKNOWN)
        if missing.size:
            first, second, back = _pairs(one[missing], other[missing])
            values = np.concatenate([work(first[at], second[at]) for at in self._chunks(len(first))])
            known.add(first, second, values)
            found[missing] = values[back]
        return found

    def _chunks(self, rows: int) -> list[slice]:
        step = max(1, _CHUNK // self._sets.width)
        return [slice(at, at + step) for at in range(0, rows, step)]

    def _common(self, one: Numbers, other: Numbers) -> Numbers:
        return self.numbers(self.bits[one] & self.bits[other])


class Held(Masks):
    """Rows of bits by number: under which sets states are met. There are far more of these."""

    def __init__(self, sets: FaultSets, masks: Masks) -> None:
        super().__init__(sets)
        self._masks = masks
        self._meet, self._grown = Pairs(), Pairs()

    @property
    def nbytes(self) -> int:
        """What all of it takes."""
        return super().nbytes + self._masks.nbytes + self._meet.nbytes + self._grown.nbytes

    def under(self, held: Numbers, mask: Numbers) -> Bits:
        """Row by row what sets that are held have in common with a mask."""
        bits = self.bits[held]
        np.bitwise_and(bits, self._masks.bits[mask], out=bits)
        return bits

    def meet(self, held: Numbers, mask: Numbers) -> Truths:
        """Row by row whether sets that are held have anything in common with a mask; neither is empty."""
        found = np.ones(len(held), np.bool_)
        rest = np.flatnonzero((held != ALL) & (mask != ALL))
        held, mask = held[rest], mask[rest]
        if self._sets.width <= _NARROW:
            found[rest] = self.under(held, mask).any(axis=1)
        else:
            found[rest] = self._looked_up(self._meet, held, mask, self._meets) != 0
        return found

    def either(self, one: Numbers, other: Numbers) -> Numbers:
        """Row by row the number of what is in one of two masks at least."""
        first, second, back = _pairs(one, other)
        found: Numbers = np.where(first == NONE, second, first)
        rest = np.flatnonzero((first != NONE) & (second != NONE))
        for at in self._chunks(len(rest)):
            some = rest[at]
            found[some] = self.numbers(self.bits[first[some]] | self.bits[second[some]])
        return found[back]

    def one_more(self, held: Numbers) -> Numbers:
        """The sets that arise from those of each mask when one more fault arrives."""
        return self._looked_up(self._grown, held, np.zeros_like(held), self._more)

    def _meets(self, held: Numbers, mask: Numbers) -> Numbers:
        meeting: Truths = np.logical_or.reduce(self.under(held, mask), axis=1)
        return meeting.astype(np.int64)

    def _more(self, held: Numbers, _: Numbers) -> Numbers:
        return self.numbers(self._sets.one_more(self.bits[held]))


def _pairs(one: Numbers, other: Numbers) -> tuple[Numbers, Numbers, Numbers]:
    """Each pair once, in two columns; and which pair each row is."""
    pairs, back = np.unique(one << 32 | other, return_inverse=True)
    return pairs >> 32, pairs & (1 << 32) - 1, back


def _with_room(table: NDArray[np.int32], rows: int, columns: int) -> NDArray[np.int32] | None:
    """The table with at least so many rows and columns; None if that is too large."""
    height, width = table.shape
    if rows <= height and columns <= width:
        return table
    height, width = _grown(height, rows), _grown(width, columns)
    if height * width > _PLACES:
        return None
    larger = np.full((height, width), UNKNOWN, np.int32)
    larger[: len(table), : table.shape[1]] = table
    return larger


def _grown(size: int, needed: int) -> int:
    return size if needed <= size else max(2 * size, 1 << (needed - 1).bit_length())
