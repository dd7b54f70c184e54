"""Sets of small numbers as rows of bits: bit n of a row says whether n is in the set."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain.arrays import Truths
from interlock.chain.layout import Words

__all__ = ["Shift", "count", "members", "packed"]

_WORD: Final = np.dtype("<u8")
_IN_WORD: Final = 6  # bits of a number that say which bit of a word it is
_EVERY: Final = np.uint64(0xFFFFFFFFFFFFFFFF)


def packed(truths: Truths) -> Words:
    """The set of the places that are true."""
    octets = np.packbits(truths, bitorder="little")
    padded = np.zeros(-(-len(octets) // 8) * 8, np.uint8)
    padded[: len(octets)] = octets
    return padded.view(_WORD).astype(np.uint64, copy=False)


def members(bits: Words) -> NDArray[np.int64]:
    """The numbers in the set, ascending."""
    at = np.flatnonzero(bits)
    octets = bits[at].astype(_WORD, copy=False).view(np.uint8).reshape(len(at), 8)
    row, bit = np.nonzero(np.unpackbits(octets, axis=1, bitorder="little"))
    return (at[row] << _IN_WORD) + bit


def count(bits: Words) -> int:
    """How many numbers are in the set."""
    if hasattr(np, "bitwise_count"):  # numpy 2
        return int(np.bitwise_count(bits).sum(dtype=np.int64))
    some = bits[np.flatnonzero(bits)].astype(_WORD, copy=False).view(np.uint8)
    return int(np.unpackbits(some).sum(dtype=np.int64))


@dataclass(frozen=True, slots=True)
class Shift:
    """Of all numbers whose field of `width` bits from bit `low` on has the value `of`: the field becomes `to`.

    The field lies within the six lowest bits or above them.
    """

    low: int
    width: int
    of: int
    to: int

    def mask(self, chosen: Truths) -> Words | None:
        """Some of the numbers with the field at `of`, as `apply` wants them (None: all of them)."""
        if self.low >= _IN_WORD:
            return None if chosen.all() else packed(chosen.ravel()).reshape(-1, 1 << self.low - _IN_WORD)
        every = np.zeros((len(chosen), 1 << self.width, 1 << self.low), np.bool_)
        every[:, self.of] = chosen
        return packed(every.ravel())

    def apply(self, bits: Words, mask: Words | None, into: Words, scratch: Words) -> None:
        """Add to `into` what becomes of those numbers of a set that are in the mask."""
        if self.low >= _IN_WORD:
            shape = (-1, 1 << self.width, 1 << self.low - _IN_WORD)
            part, goal = bits.reshape(shape)[:, self.of], into.reshape(shape)[:, self.to]
            if mask is not None:
                part = np.bitwise_and(part, mask, out=scratch[: part.size].reshape(part.shape))
            np.bitwise_or(goal, part, out=goal)
            return
        part = np.bitwise_and(bits, bits if mask is None else mask, out=scratch)
        by = self.to - self.of << self.low
        shifted = np.left_shift if by > 0 else np.right_shift
        shifted(part, np.uint64(abs(by)), out=part)
        np.bitwise_or(into, part, out=into)
