"""A growing set of words that numbers its members in the order in which they came."""

import numpy as np
from numpy.typing import NDArray

from interlock.chain.layout import Keys, Words, keys

__all__ = ["Seen"]


class Seen:
    """Words met so far; each keeps the number under which it was first added."""

    def __init__(self) -> None:
        self._keys: Keys | None = None  # sorted
        self._numbers = np.empty(0, np.int64)  # of the sorted keys

    def __len__(self) -> int:
        return len(self._numbers)

    def add(self, words: Words) -> tuple[NDArray[np.int64], Words]:
        """The number of each word, and the words that are new, in the order of their first appearance."""
        key = keys(words)
        old = key[:0] if self._keys is None else self._keys
        at = np.searchsorted(old, key)
        known = np.zeros(len(key), np.bool_)
        inside = np.flatnonzero(at < len(old))
        known[inside] = old[at[inside]] == key[inside]
        numbers = np.empty(len(key), np.int64)
        numbers[known] = self._numbers[at[known]]
        rest = np.flatnonzero(~known)
        new, first, back = np.unique(key[rest], return_index=True, return_inverse=True)
        order = np.argsort(first)
        fresh = np.empty(len(new), np.int64)
        fresh[order] = len(old) + np.arange(len(new))
        numbers[rest] = fresh[back]
        where = np.searchsorted(old, new)
        self._keys = np.insert(old, where, new)
        self._numbers = np.insert(self._numbers, where, fresh)
        return numbers, words[rest[first[order]]]
