"""Breadth-first bookkeeping: which words were met, which are still to be looked at, and the edges found."""

from collections import deque
from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain.layout import Words
from interlock.chain.seen import Seen
from interlock.chain.watching import tell

__all__ = ["Frontier"]

Numbers = NDArray[np.int64]
_A_WORD: Final = 5  # times its own size: key and number twice while they are inserted, and the word
_AN_EDGE: Final = 2 * 3 * 8
_BLOCK: Final = 1 << 15  # words expanded at a time, which bounds the memory of one step


class Frontier:
    """Hands out the words met so far, block by block in the order met, until all or `limit` were met.

    The first word has the number 0; edges, where they are kept, are in the order of their source.
    """

    def __init__(
        self, first: Words, limit: int, *, edges: bool = True, most_bytes: int | None = None
    ) -> None:
        self._keeps, self._most_bytes = edges, most_bytes
        self.expanded, self._kept = 0, 0
        self._limit, self._seen = limit, Seen()
        self._seen.add(first)
        self._met, self._waiting = [first], deque([first])
        self._edges: list[tuple[Numbers, Numbers, Numbers]] = []

    def __iter__(self) -> Iterator[tuple[int, Words]]:
        """The number of a block's first word, and the block."""
        while self._waiting and not self.shortfall:
            words = self._waiting.popleft()
            if len(words) > _BLOCK:
                self._waiting.appendleft(words[_BLOCK:])
                words = words[:_BLOCK]
            tell("the sound bench", len(self._seen))
            yield self.expanded, words
            self.expanded += len(words)

    def add(self, source: Numbers, label: Numbers, target: Words) -> None:
        """Edges from the block last handed out: number of the source, a label, the word reached."""
        numbers, fresh = self._seen.add(target)
        if self._keeps:
            self._edges.append((source, label, numbers))
            self._kept += len(numbers)
        if len(fresh):
            self._met.append(fresh)
            self._waiting.append(fresh)

    @property
    def shortfall(self) -> str:
        """Why the rest is not looked at; empty if nothing is left or it goes on."""
        if not self._waiting:
            return ""
        if len(self._seen) > self._limit:
            return f"{self._limit:,} situations"
        if self._most_bytes is not None and self._bytes() > self._most_bytes:
            return f"{self._most_bytes / (1 << 20):,.4g} MiB of memory"
        return ""

    def _bytes(self) -> int:
        """What words and edges take at the most, while they are put together."""
        return _A_WORD * len(self._seen) * self._met[0][:1].nbytes + _AN_EDGE * self._kept

    def words(self) -> Words:
        """Every word met, by its number."""
        return np.concatenate(self._met)

    def edges(self) -> tuple[Numbers, Numbers, Numbers]:
        """Source, label and target of every edge."""
        empty = [(np.empty(0, np.int64),) * 3]
        source, label, target = (np.concatenate(part) for part in zip(*(self._edges or empty), strict=True))
        return source, label, target
