"""Breadth-first search under many fault sets at once: which states are met under which sets, and how soon."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.chain.bent_steps import Moves, Steps, joined
from interlock.chain.explore import Numbers
from interlock.chain.fault_sets import Bits
from interlock.chain.layout import Words
from interlock.chain.seen import Seen

__all__ = ["Level", "OutOfRoom", "Spread"]

_BLOCK: Final = 1 << 17  # words of bits that are moved at a time


class OutOfRoom(Exception):
    """The search needs more memory than it may take."""


@dataclass(frozen=True, slots=True)
class Level:
    """States, and of each the sets under which it was not met in an earlier level."""

    words: Words
    bits: Bits

    def blocks(self) -> Iterator["Level"]:
        """The level in parts that can be moved at once."""
        rows = max(256, _BLOCK // self.bits.shape[1])
        for at in range(0, len(self.words), rows):
            yield Level(self.words[at : at + rows], self.bits[at : at + rows])


class Spread:
    """Levels of states from a beginning on, by some events; with `arriving`, faults may arrive at any moment."""

    def __init__(self, steps: Steps, events: frozenset[int], *, arriving: bool, most_bytes: int) -> None:
        self.steps, self.arriving, self._events, self._most_bytes = steps, arriving, events, most_bytes
        self.levels: list[Level] = []
        self._seen, self._fresh = Seen(), list[Words]()
        self._met = np.zeros((1024, steps.glass.sets.width), np.uint64)
        self._kept = 0

    @property
    def met(self) -> Level:
        """Every state met, with all the sets under which it was."""
        words = np.concatenate(self._fresh) if self._fresh else np.empty(0, np.uint64)
        return Level(words, self._met[: len(words)])

    def run(
        self,
        words: Words,
        bits: Bits,
        look: Callable[[Level], bool],
        saw: Callable[[Level, Moves], None] | None = None,
    ) -> None:
        """Level by level; `look` sees each level and ends it all by False, `saw` its moves, part by part.

        Raises OutOfRoom if what was met takes more than `most_bytes`.
        """
        level = _merged([self._new(words, bits)])
        while len(level.words):
            self.levels.append(level)
            if not look(level):
                return
            level = _merged([self._after(block, saw) for block in level.blocks()])

    def _after(self, block: Level, saw: Callable[[Level, Moves], None] | None) -> "_Fresh":
        moves = self.moves(block)
        if saw is not None:
            saw(block, moves)
        return self._new(moves.words, moves.bits)

    def moves(self, level: Level) -> Moves:
        """Everything that can happen in the states of a level, under its sets."""
        fired = self.steps.fire(level.words, level.bits, self._events)
        return joined([fired, self.steps.arrive(level.words, level.bits)]) if self.arriving else fired

    def _new(self, words: Words, bits: Bits) -> "_Fresh":
        """What was not met before, each state once."""
        numbers, fresh = self._seen.add(words)
        self._fresh.append(fresh)
        self._make_room()
        new = _once(numbers, words, bits & ~self._met[numbers])
        self._met[new.numbers] |= new.bits
        self._kept += new.bits.nbytes
        return new

    def _make_room(self) -> None:
        if len(self._seen) > len(self._met):
            more = np.zeros((2 * len(self._seen) - len(self._met), self._met.shape[1]), np.uint64)
            self._met = np.concatenate([self._met, more])
        if self._met.nbytes + self._kept > self._most_bytes:
            raise OutOfRoom(f"the search takes more than {self._most_bytes >> 20} MiB of memory")


@dataclass(frozen=True, slots=True)
class _Fresh:
    """States by ascending number, and of each the sets under which it is new."""

    numbers: Numbers
    words: Words
    bits: Bits


def _once(numbers: Numbers, words: Words, bits: Bits) -> _Fresh:
    """Each state once, with all its sets; those without any are left out."""
    some = np.flatnonzero(bits.any(axis=1))
    order = some[np.argsort(numbers[some], kind="stable")]
    if not order.size:
        return _Fresh(numbers[:0], words[:0], bits[:0])
    first = np.flatnonzero(np.diff(numbers[order], prepend=-1))
    at = order[first]
    return _Fresh(numbers[at], words[at], np.bitwise_or.reduceat(bits[order], first, axis=0))


def _merged(parts: list[_Fresh]) -> Level:
    """One level of what several parts of the one before it have newly met."""
    numbers = np.concatenate([one.numbers for one in parts])
    words = np.concatenate([one.words for one in parts])
    whole = _once(numbers, words, np.concatenate([one.bits for one in parts]))
    return Level(whole.words, whole.bits)
