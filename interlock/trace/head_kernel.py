"""Heads of lines (bus, identifier, number of data bytes) remembered by a compiled loop: a log repeats few of them.

What stood in the same characters before need not be read again. A head holds no line end, so where its characters
stand the line goes on behind them, and what they say depends on nothing else.
"""

from typing import Any

import numpy as np

from interlock.trace.kernel_compiler import U, part
from interlock.trace.word_kernel import KEEP, ZERO

__all__ = ["no_heads", "remember", "remembered", "slot_of", "told_by", "unusual"]

_MIX, _LEFT, _SLOTS = np.uint64(0x9E3779B97F4A7C15), np.uint64(58), 64
_WORDS = 4  # of eight characters: longer heads are not remembered
_MASKS, _SIZE, _TOLD, _ALL = 4, 8, 9, 13
"""Where in a slot the masks of the words begin, where the size of the head stands, and where what it tells begins."""


@part
def no_heads() -> Any:
    """The memory before the first line."""
    return np.zeros((_SLOTS, _ALL), np.uint64)


@part
def slot_of(words: Any, at: int, size: int) -> Any:
    """Where a head of this size that begins here is remembered: a number that its first characters make."""
    first = words[U(at)] & KEEP[min(size, 8)]
    second = words[U(at + 8)] & KEEP[min(max(size - 8, 0), 8)]
    return (first ^ second * _MIX) * _MIX >> _LEFT


@part
def remembered(words: Any, at: int, heads: Any, slot: Any) -> int:
    """The size of the head in this slot, if it stands here; else 0."""
    wrong = (words[U(at)] ^ heads[slot, 0]) & heads[slot, _MASKS]
    wrong |= (words[U(at + 8)] ^ heads[slot, 1]) & heads[slot, _MASKS + 1]
    wrong |= (words[U(at + 16)] ^ heads[slot, 2]) & heads[slot, _MASKS + 2]
    wrong |= (words[U(at + 24)] ^ heads[slot, 3]) & heads[slot, _MASKS + 3]
    size: Any = np.int64(heads[slot, _SIZE])
    return size if wrong == ZERO else 0


@part
def told_by(heads: Any, slot: Any) -> tuple[int, int, int, int]:
    """What the head in this slot tells."""
    first: Any = np.int64(heads[slot, _TOLD])
    second: Any = np.int64(heads[slot, _TOLD + 1])
    third: Any = np.int64(heads[slot, _TOLD + 2])
    last: Any = np.int64(heads[slot, _TOLD + 3])
    return first, second, third, last


@part
def remember(words: Any, at: int, size: int, heads: Any, told: tuple[int, int, int, int]) -> None:
    """Keep what so many characters from here on tell, if they are few."""
    if 0 < size <= 8 * _WORDS:
        slot = slot_of(words, at, size)
        for number in range(_WORDS):
            heads[slot, number] = words[U(at + 8 * number)]
            heads[slot, _MASKS + number] = KEEP[min(max(size - 8 * number, 0), 8)]
            heads[slot, _TOLD + number] = np.uint64(told[number])
        heads[slot, _SIZE] = np.uint64(size)


@part
def unusual(sizes: tuple[int, int], size: int) -> tuple[int, int]:
    """The size by which heads are sought, and that of the last one if it was not found, after one that was not: only
    what comes twice in a row is sought from now on."""
    return (size, size) if sizes[1] == size else (sizes[0], size)
