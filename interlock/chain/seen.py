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

    def find(self, words: Words) -> NDArray[np.int64]:
        """The number of each word; -1 if it was not added."""
        return self._find(keys(words))[0]

    def add(self, words: Words) -> tuple[NDArray[np.int64], Words]:
        """The number of each word, and the words that are new, in the order of their first appearance."""
        key = keys(words)
        old = key[:0] if self._keys is None else self._keys
        numbers, rest = self._find(key)
        new, first, back = np.unique(key[rest], return_index=True, return_inverse=True)
        order = np.argsort(first)
        fresh = np.empty(len(new), np.int64)
        fresh[order] = len(old) + np.arange(len(new))
        numbers[rest] = fresh[back]
        where = np.searchsorted(old, new)
        self._keys = np.insert(old, where, new)
        self._numbers = np.insert(self._numbers, where, fresh)
        return numbers, words[rest[first[order]]]

    def _find(self, key: Keys) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
        """The number of each key, -1 for none; and where there is none."""
        numbers = np.full(len(key), -1, np.int64)
        if self._keys is None or not len(self._keys):
            return numbers, np.arange(len(key))
        at = np.minimum(np.searchsorted(self._keys, key), len(self._keys) - 1)
        known = self._keys[at] == key
        numbers[known] = self._numbers[at[known]]
        return numbers, np.flatnonzero(~known)
