"""Under which fault sets may a loss come back within a demand, so that its time must count from the demand?

While the search goes on only such moves are noted: within a demand into a state of loss that late reactions end in
time, from a state without the loss, or as another reaction becomes due. Most benches have none. What is noted is
timed afterwards (`interlock.chain.again_timed`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from interlock.chain import ir
from interlock.chain.bent_steps import Ways
from interlock.chain.compile import waits
from interlock.chain.fault_sets import Bits
from interlock.chain.ground import Ground
from interlock.chain.losses import Loss
from interlock.chain.masks import NONE
from interlock.chain.outcomes import Truth
from interlock.chain.sight import NOBODY
from interlock.chain.spread import Kept
from interlock.chain.stepping import Numbers

__all__ = ["Due", "Notes"]

_BLOCK = 1 << 12


@dataclass(frozen=True, slots=True)
class Due:
    """A late reaction that comes within a limit, and when it is due."""

    event: int
    delay_ns: int
    when: Truth


class Notes:
    """The sets of each loss under which such moves were met; `noted` has a row for each loss."""

    def __init__(self, ground: Ground, losses: Sequence[Loss]) -> None:
        self._ground, self._losses = ground, losses
        self.noted = np.zeros((len(losses), ground.sets.width), np.uint64)
        self._watched: dict[int, _Terms] = {}
        self._before: Kept | None = None

    def next_level(self, level: Kept) -> None:
        """The moves that are seen from now on start from this level."""
        self._before = level

    def ends_in_time(self, number: int) -> None:
        """A state was met in which late reactions end the loss in time: from now on moves into such are noted."""
        loss = self._losses[number]
        if number in self._watched or loss.during is None or loss.within_ns is None:
            return
        self._watched[number] = terms = _Terms(self._ground, loss)
        if (before := self._before) is None:
            return
        at = np.flatnonzero(terms.during.of(before.words) != NONE)
        for some in np.split(at, range(_BLOCK, len(at), _BLOCK)):
            block = before.at(some)
            ways = self._ground.steps.fired(block.words, block.masks, self._ground.events)
            self._note(number, terms, block, ways)

    def saw(self, block: Kept, ways: Ways) -> None:
        """What these moves have to be noted for."""
        for number, terms in self._watched.items():
            self._note(number, terms, block, ways)

    def _note(self, number: int, terms: "_Terms", block: Kept, ways: Ways) -> None:
        demanded = terms.during.of(block.words) != NONE
        rows = np.flatnonzero(demanded[ways.row] & (ways.event != NOBODY))
        bad = terms.bad.of(ways.words[rows])
        rows, bad = rows[bad != NONE], bad[bad != NONE]
        if rows.size:
            bits = self._ground.steps.held.under(ways.held[rows], ways.mask[rows])
            bits &= self._ground.masks.bits[bad]
            bits &= self._fresh(terms, block, ways.at(rows))
            self.noted[number] |= np.bitwise_or.reduce(bits, axis=0)

    def _fresh(self, terms: "_Terms", block: Kept, ways: Ways) -> Bits:
        """The sets under which the loss was not there before the move, or another reaction is due after it."""
        was = block.words[ways.row]
        fresh: Bits = ~self._bits(terms.bad.of(was))
        for one in terms.due:
            before, now = self._bits(one.when.of(was)), self._bits(one.when.of(ways.words))
            before[ways.event == one.event] = 0
            fresh |= now & ~before
        return fresh

    def _bits(self, masks: Numbers) -> Bits:
        return self._ground.masks.bits[masks]


class _Terms:
    """What is asked of each state for a loss whose time counts from a demand."""

    def __init__(self, ground: Ground, loss: Loss) -> None:
        self.during = ground.truth(ir.TRUE if loss.during is None else loss.during)
        self.bad = ground.truth(loss.term)
        self.due = due_within(ground, loss.within_ns or 0)


def due_within(ground: Ground, within_ns: int) -> tuple[Due, ...]:
    """The late reactions that come within a limit."""
    events = ground.faulty.chain.events
    return tuple(
        Due(at, events[at].delay_ns, ground.truth(waits(events[at]))) for at in sorted(ground.late(within_ns))
    )
