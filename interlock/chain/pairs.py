"""A number for each pair of numbers, looked up and added many at a time: a hash table in plain arrays."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["UNKNOWN", "Pairs"]

UNKNOWN: Final = -1
_HALF: Final = np.uint64(32)
_EMPTY: Final = np.uint64(0xFFFFFFFFFFFFFFFF)
_SPREAD: Final = np.uint64(0x9E3779B97F4A7C15)  # 2**64 over the golden ratio, made odd (Knuth, volume 3, 6.4)
Numbers = NDArray[np.int64]


class Pairs:
    """Numbers from 0 on by pairs of numbers below 2**32; probed linearly, at most half full."""

    def __init__(self) -> None:
        self._count = 0
        self._clear(1 << 10)

    def __len__(self) -> int:
        return self._count

    @property
    def nbytes(self) -> int:
        """What is set aside."""
        return self._keys.nbytes + self._values.nbytes

    def get(self, one: Numbers, other: Numbers) -> Numbers:
        """The number of each pair, or UNKNOWN."""
        found = np.full(len(one), UNKNOWN, np.int64)
        key = _keys(one, other)
        at, row = self._home(key), np.arange(len(key))
        while row.size:
            here = self._keys[at]
            hit = here == key
            found[row[hit]] = self._values[at[hit]]
            on = np.flatnonzero(~hit & (here != _EMPTY))
            row, key, at = row[on], key[on], self._next(at[on])
        return found

    def add(self, one: Numbers, other: Numbers, values: Numbers) -> None:
        """Pairs that were not there, each once."""
        self._count += len(one)
        if 2 * self._count > len(self._keys):
            kept = np.flatnonzero(self._keys != _EMPTY)
            keys, old = self._keys[kept], self._values[kept]
            self._clear(4 * max(len(self._keys), 1 << (self._count - 1).bit_length()) // 2)
            self._put(keys, old)
        self._put(_keys(one, other), values.astype(np.int32))

    def _clear(self, size: int) -> None:
        self._keys = np.full(size, _EMPTY)
        self._values = np.empty(size, np.int32)
        self._shift = np.uint64(64 - (size - 1).bit_length())

    def _put(self, key: NDArray[np.uint64], values: NDArray[np.int32]) -> None:
        at = self._home(key)
        while key.size:
            free = self._keys[at] == _EMPTY
            self._keys[at[free]] = key[free]  # of several with one home the last one stays
            mine = self._keys[at] == key
            self._values[at[mine]] = values[mine]
            key, values, at = key[~mine], values[~mine], self._next(at[~mine])

    def _home(self, key: NDArray[np.uint64]) -> NDArray[np.intp]:
        return ((key * _SPREAD) >> self._shift).astype(np.intp)

    def _next(self, at: NDArray[np.intp]) -> NDArray[np.intp]:
        return (at + 1) & (len(self._keys) - 1)


def _keys(one: Numbers, other: Numbers) -> NDArray[np.uint64]:
    return one.astype(np.uint64) << _HALF | other.astype(np.uint64)
