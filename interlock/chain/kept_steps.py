"""Steps that are worked out once for each state, for searches that come by the same states again and again."""

import numpy as np

from interlock.chain import ir
from interlock.chain.bent_steps import Steps, Ways
from interlock.chain.growing import Growing
from interlock.chain.layout import Words
from interlock.chain.masks import ALL, Masks
from interlock.chain.seen import Seen
from interlock.chain.sight import Glass
from interlock.chain.stepping import Numbers

__all__ = ["KeptSteps"]


class KeptSteps(Steps):
    """The same steps. They are worked out under all sets, so it is for few sets only, or states split too much."""

    def __init__(
        self, glass: Glass, masks: Masks, chain: ir.Chain, observers: tuple[ir.Observer, ...]
    ) -> None:
        super().__init__(glass, masks, chain, observers)
        self._every, self._keeps, self._seen_words = frozenset(range(len(chain.events))), True, Seen()
        self._first, self._words = Growing(np.zeros(1, np.int64)), Growing(glass.layout.words([]))
        self._event, self._mask = Growing(np.empty(0, np.int64)), Growing(np.empty(0, np.int64))

    @property
    def nbytes(self) -> int:
        """What the steps that were worked out take."""
        parts = (self._first, self._words, self._event, self._mask)
        return sum(part.nbytes for part in parts)

    def fired(self, words: Words, held: Numbers, events: frozenset[int]) -> Ways:
        """Each of the events, in each state where it can happen, under the sets of a mask each."""
        numbers = self._known(words) if self._keeps else None
        if numbers is None:
            return super().fired(words, held, events)
        first, count = self._first.rows[numbers], np.diff(self._first.rows)[numbers]
        row = np.repeat(np.arange(len(words)), count)
        at = np.arange(len(row)) + np.repeat(first - np.cumsum(count) + count, count)
        if events != self._every:
            chosen = np.array([number in events for number in range(len(self._every))], np.bool_)
            some = np.flatnonzero(chosen[self._event.rows[at]])
            row, at = row[some], at[some]
        alive = np.flatnonzero(self.held.meet(held[row], self._mask.rows[at]))
        row, at = row[alive], at[alive]
        return Ways(row, self._event.rows[at], self._words.rows[at], held[row], self._mask.rows[at])

    def know(self, words: Words) -> None:
        """Work out at once what follows all these states."""
        if self._keeps:
            self._known(words)

    def _known(self, words: Words) -> Numbers | None:
        """The number of each state; None from when on some never comes to rest, be it under sets that are not met."""
        numbers, fresh = self._seen_words.add(words)
        if not len(fresh):
            return numbers
        before = self.restless.copy()
        ways = super().fired(fresh, np.full(len(fresh), ALL), self._every)
        if (self.restless != before).any():
            self.restless, self._keeps = before, False
            return None
        order = np.lexsort((ways.event, ways.row))
        self._first.add(self._first.rows[-1] + np.cumsum(np.bincount(ways.row, minlength=len(fresh))))
        self._words.add(ways.words[order])
        self._event.add(ways.event[order])
        self._mask.add(ways.mask[order])
        return numbers
