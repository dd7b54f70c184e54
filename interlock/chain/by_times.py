"""What comes of a moment under given faults if nobody acts, no more faults arrive, and each late reaction comes exactly
when its stated time is over? The same question as `interlock.chain.by_schedule`, of many moments under fault sets.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.arrays import Truths
from interlock.chain.fault_sets import Bits
from interlock.chain.ground import Ground
from interlock.chain.layout import Words
from interlock.chain.sight import Sight
from interlock.chain.trail import Stage

__all__ = ["by_times"]

_MOST: Final = 64  # late reactions one after the other that are followed


def by_times(
    ground: Ground, words: Words, moments: Sequence[tuple[int, int]], culprit: ir.Term, first: str
) -> list[tuple[Stage, ...] | None]:
    """Of each moment, a row of the words and a set by its number: the late reactions up to the first culprit.

    None: no culprit comes. Of reactions that come at the same moment those of the device `first` come first.
    """
    found: list[tuple[Stage, ...] | None] = [None] * len(moments)
    runs = [_Run(at, one) for at, (_, one) in enumerate(moments)]
    words = words[[row for row, _ in moments]]
    for _ in range(_MOST):
        if not runs:
            break
        moves = ground.steps.fire(words, _bits(ground, [run.set for run in runs]), ground.late(None))
        real: Truths = np.any(moves.bits, axis=1)
        moves = moves.where(real)
        sight = Sight(ground.glass, moves.words, words[moves.row], moves.event)
        bad: Truths = np.any(sight.truth(culprit) & moves.bits, axis=1)
        due: list[dict[int, int]] = [{} for _ in runs]
        for edge, (row, event) in enumerate(zip(moves.row.tolist(), moves.event.tolist(), strict=True)):
            due[row][event] = edge
        numbers, going = ground.layout.numbers(moves.words), list[tuple[_Run, int]]()
        for run, edges in zip(runs, due, strict=True):
            taken = run.next(ground, edges, first, numbers)
            if taken is not None and bad[taken]:
                found[run.place] = tuple(run.stages)
            elif taken is not None:
                going.append((run, taken))
        runs, words = [run for run, _ in going], moves.words[[edge for _, edge in going]]
    return found


class _Run:
    """One moment and what has come of it so far."""

    def __init__(self, place: int, set_: int) -> None:
        self.place, self.set, self.stages = place, set_, list[Stage]()
        self._now, self._due = 0, dict[int, int]()

    def next(self, ground: Ground, edges: dict[int, int], first: str, numbers: Sequence[int]) -> int | None:
        """Take the reaction that comes next, of those by which these edges lead on; the edge taken."""
        events = ground.faulty.chain.events
        self._due = {one: self._due.get(one, self._now + events[one].delay_ns) for one in edges}
        if not self._due:
            return None
        event = min(self._due, key=lambda one: (self._due[one], events[one].device != first, one))
        self._now = self._due.pop(event)
        self.stages.append(Stage(event, numbers[edges[event]], self.set))
        return edges[event]


def _bits(ground: Ground, sets: Sequence[int]) -> Bits:
    chosen: Truths = np.zeros((len(sets), len(ground.sets.sets)), np.bool_)
    chosen[np.arange(len(sets)), list(sets)] = True
    return ground.sets.pack(chosen)
