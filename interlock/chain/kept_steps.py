"""Steps that are worked out once for each state of the devices, whatever the observers remember in it.

Reactions do not look at observers, so states that differ only in what these remember move alike. Of each state of
the devices the steps are worked out under all the sets under which it was met (its hull), and again when it is met
under more; what one search or the next asks for is then looked up.
"""

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.bent_steps import MANY, Steps, Ways, joined
from interlock.chain.fault_sets import Bits
from interlock.chain.growing import Growing
from interlock.chain.layout import Words, either
from interlock.chain.masks import NONE, Masks
from interlock.chain.seen import Seen
from interlock.chain.sight import Glass, Sight
from interlock.chain.stepping import Numbers

__all__ = ["KeptSteps"]

_BLOCK: Final = 1 << 12  # states that are worked out at a time
_BITS: Final = 1 << 17  # words of bits that are looked at at a time
_FEW_SETS: Final = 256  # up to which ways are told state by state, beyond that event by event
_LOW: Final = (1 << 32) - 1


class KeptSteps(Steps):
    """The same steps; among them ways that are possible under none of the sets asked for.

    The order of the ways decides which of equally short counterexamples is told.
    """

    def __init__(
        self, glass: Glass, masks: Masks, chain: ir.Chain, observers: tuple[ir.Observer, ...]
    ) -> None:
        super().__init__(glass, masks, chain, observers)
        none = glass.layout.words([])
        self._every = frozenset(range(len(chain.events)))
        placed = [(at, event) for at, one in enumerate(self._events.values()) for event, _ in one]
        self._order = np.zeros(len(chain.events) + 1, np.int64)  # of the events; the last place is nobody's
        self._device = np.zeros_like(self._order)
        for place, (device, event) in enumerate(placed):
            self._order[event], self._device[event] = place, device
        self._few = len(glass.sets.sets) <= _FEW_SETS
        self._memory = glass.layout.mask(one.field.name for one in observers)
        self._forgetful = {one.field.name for one in observers}.isdisjoint(_looked_at(observers))
        self._states, self._words = Seen(), Growing(none)  # of the devices; what is remembered is zero
        self._hull = Growing(np.empty(0, np.int64))  # the number of a mask of each state
        self._hull_of_faults = Growing(np.empty(0, np.int64))  # the hull under which faults were worked out
        self._by_events, self._by_faults = _Book(none), _Book(none)

    @property
    def nbytes(self) -> int:
        """What the steps that were worked out take."""
        parts = (self._words, self._hull, self._hull_of_faults, self._by_events, self._by_faults)
        return sum(part.nbytes for part in parts)

    def know(self, words: Words, held: Numbers, *, arriving: bool) -> None:
        """Work out what follows these states under the sets of a mask each; `arriving`: also what faults lead to."""
        if not self._forgetful:
            return
        states, fresh = self._states.add(words & ~self._memory)
        self._words.add(fresh)
        for hull in (self._hull, self._hull_of_faults):
            hull.add(np.full(len(fresh), NONE))
        parts = [states[:0]]
        for state, bits in self._beyond(states, held):
            self._hull.rows[state] = self.held.numbers(bits)
            parts.append(state)
        for some in _blocks(np.unique(np.concatenate(parts))):
            found = self._rested(self._words.rows[some], self._hull.rows[some], self._every)
            self._write(self._by_events, some, found)
        if arriving:
            self._know_faults(np.unique(states))

    def fired(self, words: Words, held: Numbers, events: frozenset[int]) -> Ways:
        """Each of the events, in each state where it can happen, under the sets of a mask each."""
        states = self._known(words, held)
        if states is None:
            return super().fired(words, held, events)
        row, at = self._by_events.rows(states)
        if events != self._every:
            chosen = np.array([number in events for number in range(len(self._every))], np.bool_)
            some = np.flatnonzero(chosen[self._by_events.event.rows[at]])
            row, at = row[some], at[some]
        if self._few:
            return self._by_events.ways(words, held, row, at)
        return self._by_events.ways(words, held, row, at, self._sorted(row, at, len(words)))

    def _sorted(self, row: Numbers, at: Numbers, states: int) -> Numbers:
        """The order of the ways from so many states: by rounds; of very many, by the devices that act first."""
        book, cases = self._by_events, np.zeros((states, len(self._order)), np.bool_)
        event, order = book.event.rows[at], book.order.rows[at]
        cases[row, event] = True
        if np.count_nonzero(cases) > MANY:
            order = self._device[event] * (int(order.max()) + 1) + order
        return order

    def arrived(self, words: Words, held: Numbers) -> Ways:
        """One more fault arrives, in each state under each of the sets of its mask."""
        states = self._known(words, held)
        if states is None or (self._hull.rows[states] != self._hull_of_faults.rows[states]).any():
            return super().arrived(words, held)
        row, at = self._by_faults.rows(states)
        return self._by_faults.ways(words, self.held.one_more(held), row, at, self._by_faults.order.rows[at])

    def _known(self, words: Words, held: Numbers) -> Numbers | None:
        """The number of each state, if all of them are known under all of their sets."""
        states = self._states.find(words & ~self._memory)
        if states.min(initial=0) < 0 or any(len(state) for state, _ in self._beyond(states, held)):
            return None
        return states

    def _beyond(self, states: Numbers, held: Numbers) -> Iterator[tuple[Numbers, Bits]]:
        """Part by part the states with sets beyond their hull, each once; and these sets joined with the hull."""
        pairs, rows = np.unique(states << 32 | held), max(256, _BITS // self.glass.sets.width)
        for at in range(0, len(pairs), rows):
            state, mask = pairs[at : at + rows] >> 32, pairs[at : at + rows] & _LOW
            first = np.flatnonzero(np.diff(state, prepend=-1))
            state = state[first]
            met = np.bitwise_or.reduceat(self.held.bits[mask], first, axis=0)
            hull = self.held.bits[self._hull.rows[state]]
            more = np.flatnonzero((met & ~hull).any(axis=1))
            yield state[more], met[more] | hull[more]

    def _know_faults(self, states: Numbers) -> None:
        """Work out what one more fault leads to, where that was not done under the whole hull."""
        for some in _blocks(states[self._hull.rows[states] != self._hull_of_faults.rows[states]]):
            ways = self._with_one_more(self._words.rows[some], self._hull.rows[some])
            self._write(self._by_faults, some, enumerate(self._settled(ways, self._reactions)))
            self._hull_of_faults.rows[some] = self._hull.rows[some]

    def _write(self, book: "_Book", states: Numbers, parts: Iterable[tuple[int, Ways]]) -> None:
        """Put down what some states lead to: ways, and after how many rounds they come to rest."""
        found, none = list(parts), np.empty(0, np.int64)
        nothing = Ways(none, none, self._words.rows[:0], none, none)
        ways = joined([nothing, *(one for _, one in found)])
        turn = np.repeat([turn for turn, _ in found], [len(one.row) for _, one in found]).astype(np.int64)
        by_state = self._few and book is self._by_events
        order = ways.event if by_state else turn * len(self._order) + self._order[ways.event]
        becomes, kept = self._updated(ways, self._words.rows[states[ways.row]])
        book.write(states, ways, order, becomes, kept)

    def _updated(self, ways: Ways, was: Words) -> tuple[Words, Words]:
        """The states with what observers newly remember; and the bits of what these keep, whatever it is."""
        sight, layout = Sight(self.glass, ways.words, was, ways.event), self.glass.layout
        becomes, kept = ways.words, np.broadcast_to(self._memory, ways.words.shape)
        for observer in self.observers:
            name, free = observer.field.name, np.ones(len(ways.row), np.bool_)
            for term, value in observer.updates:
                hit = free & sight.rows(term)
                free &= ~hit
                becomes = either(hit, layout.put(becomes, name, value), becomes)
            kept = either(free, kept, kept & ~layout.mask([name]))
        return becomes, kept


class _Book:
    """For states by their numbers the rows of what they lead to; written anew where more is known."""

    def __init__(self, none: Words) -> None:
        number = np.empty(0, np.int64)
        self._first, self._count = Growing(number), Growing(number)  # of each state, among the rows
        self.event, self.order, self._mask = Growing(number), Growing(number), Growing(number)
        self._becomes, self._kept = Growing(none), Growing(none)

    def __len__(self) -> int:
        return len(self.event)

    @property
    def nbytes(self) -> int:
        numbers = (self._first, self._count, self.event, self.order, self._mask)
        return sum(part.nbytes for part in numbers) + self._becomes.nbytes + self._kept.nbytes

    def write(self, states: Numbers, ways: Ways, order: Numbers, becomes: Words, kept: Words) -> None:
        """The ways from some states, in this order from each."""
        more = np.zeros(max(0, int(states.max()) + 1 - len(self._first)), np.int64)
        self._first.add(more)
        self._count.add(more)
        rows, count = np.lexsort((order, ways.row)), np.bincount(ways.row, minlength=len(states))
        self._first.rows[states] = len(self) + np.cumsum(count) - count
        self._count.rows[states] = count
        self.event.add(ways.event[rows])
        self.order.add(order[rows])
        self._mask.add(ways.mask[rows])
        self._becomes.add(becomes[rows])
        self._kept.add(kept[rows])

    def rows(self, states: Numbers) -> tuple[Numbers, Numbers]:
        """Which of the states each row is of, and where it is."""
        first, count = self._first.rows[states], self._count.rows[states]
        row = np.repeat(np.arange(len(states)), count)
        return row, np.arange(len(row)) + np.repeat(first - np.cumsum(count) + count, count)

    def ways(
        self, words: Words, held: Numbers, row: Numbers, at: Numbers, order: Numbers | None = None
    ) -> Ways:
        """Ways from states by some rows; in the given order, else state by state."""
        if order is not None:
            by = np.argsort(order * len(row) + np.arange(len(row)))
            row, at = row[by], at[by]
        now = words[row] & self._kept.rows[at] | self._becomes.rows[at]
        return Ways(row, self.event.rows[at], now, held[row], self._mask.rows[at])


def _blocks(states: Numbers) -> Iterator[Numbers]:
    yield from (states[at : at + _BLOCK] for at in range(0, len(states), _BLOCK))


def _looked_at(observers: tuple[ir.Observer, ...]) -> set[str]:
    """The fields that decide what observers remember next, other than that it stays."""
    atoms = (atom for one in observers for term, _ in one.updates for atom in ir.atoms(term))
    return {atom.field for atom in atoms if not isinstance(atom, ir.By)}
