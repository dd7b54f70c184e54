"""Ways found in a part of a bench, followed in the whole of it: what every other device does meanwhile."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from interlock.chain.bent_steps import Ways
from interlock.chain.fault_sets import Bits
from interlock.chain.ground import Ground
from interlock.chain.layout import Layout, Words
from interlock.chain.sight import NOBODY
from interlock.chain.stepping import Numbers
from interlock.chain.trail import Stage

__all__ = ["followed"]

_MANY: Final = 1 << 10  # ways at a time


def followed(ground: Ground, part: Layout, ways: Sequence[Sequence[Stage]]) -> list[tuple[Stage, ...]]:
    """The same ways with the states of the whole bench; their events and sets are those of the whole bench already.

    Where under a set other devices never come to rest they stand still.
    """
    found: list[tuple[Stage, ...]] = []
    for at in range(0, len(ways), _MANY):
        found += _Follower(ground, part, ways[at : at + _MANY]).run()
    return found


class _Follower:
    """Goes all ways at once, step by step."""

    def __init__(self, ground: Ground, part: Layout, ways: Sequence[Sequence[Stage]]) -> None:
        self._ground, self._part, self._ways = ground, part, ways
        self._now = [ground.start] * len(ways)

    def run(self) -> list[tuple[Stage, ...]]:
        told: list[list[Stage]] = [[] for _ in self._ways]
        for at in range(max(map(len, self._ways), default=0)):
            on = [number for number, way in enumerate(self._ways) if len(way) > at]
            comes = [number for number in on if self._ways[number][at].event == NOBODY]
            self._step(at, comes, np.full(len(comes), NOBODY))
            acts = [number for number in on if self._ways[number][at].event != NOBODY]
            self._step(at, acts, np.array([self._ways[number][at].event for number in acts], np.int64))
            for number in on:
                stage = self._ways[number][at]
                told[number].append(Stage(stage.event, self._now[number], stage.set))
        return [tuple(one) for one in told]

    def _step(self, at: int, numbers: Sequence[int], event: Numbers) -> None:
        """The same kind of step on some of the ways; at power-up, and when a fault arrives, nobody acts."""
        if not numbers:
            return
        steps, layout = self._ground.steps, self._ground.layout
        words = layout.words(self._now[number] for number in numbers)
        held = steps.held.numbers(self._alone([self._ways[number][at].set for number in numbers]))
        if event[0] != NOBODY:
            ways = steps.fired(words, held, frozenset(event.tolist()))
        else:
            ways = steps.under(words, held) if at else steps.begun(words, held)
        led = dict(zip(*self._led(ways, event), strict=True))
        for row, number in enumerate(numbers):
            here = self._ways[number][at].word
            self._now[number] = led[row] if row in led else self._put(self._now[number], here)

    def _led(self, ways: Ways, event: Numbers) -> tuple[list[int], list[int]]:
        """Of the ways that are possible: from which row, and to which state."""
        steps = self._ground.steps
        there = steps.held.under(ways.held, ways.mask).any(axis=1) & (ways.event == event[ways.row])
        words: Words = ways.words[there]
        return ways.row[there].tolist(), self._ground.layout.numbers(words)

    def _alone(self, sets: Sequence[int]) -> Bits:
        """A row for each set, which has this set alone."""
        number = np.array(sets, np.int64)
        bits = np.zeros((len(sets), self._ground.sets.width), np.uint64)
        bits[np.arange(len(sets)), number >> 6] = np.uint64(1) << (number & 63).astype(np.uint64)
        return bits

    def _put(self, whole: int, part: int) -> int:
        layout = self._ground.layout
        return layout.pack({**layout.unpack(whole), **self._part.unpack(part)})
