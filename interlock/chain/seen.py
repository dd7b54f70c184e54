"""A growing set of words that numbers its members in the order in which they came."""

import numpy as np
from numpy.typing import NDArray

from interlock.chain.layout import Words

__all__ = ["Seen"]


class Seen:
    """Words met so far; each keeps the number under which it was first added."""

    def __init__(self) -> None:
        self._words = np.empty(0, np.uint64)  # sorted
        self._numbers = np.empty(0, np.int64)  # of the sorted words

    def __len__(self) -> int:
        return len(self._words)

    def add(self, words: Words) -> tuple[NDArray[np.int64], Words]:
        """The number of each word, and the words that are new, in the order of their first appearance."""
        unique, first, back = np.unique(words, return_index=True, return_inverse=True)
        at = np.searchsorted(self._words, unique)
        known = np.zeros(len(unique), np.bool_)
        inside = at < len(self._words)
        known[inside] = self._words[at[inside]] == unique[inside]
        numbers = np.empty(len(unique), np.int64)
        numbers[known] = self._numbers[at[known]]
        new = np.flatnonzero(~known)
        order = new[np.argsort(first[new])]
        numbers[order] = len(self._words) + np.arange(len(order))
        self._words = np.insert(self._words, at[new], unique[new])
        self._numbers = np.insert(self._numbers, at[new], numbers[new])
        return numbers[back], unique[order]
