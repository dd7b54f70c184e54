"""One step of a bench under many fault sets at once: rows of states, each with the sets under which it is met.

The meaning is that of `reference`, set by set. Where a guard holds under some of a row's sets only, the row
splits. A state that was met is at rest, so after an event only those devices are looked at that see a change.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.arrays import Truths
from interlock.chain.fault_sets import Bits
from interlock.chain.layout import Words, either, same
from interlock.chain.masks import ALL, NONE, Held, Masks
from interlock.chain.outcomes import Outcomes
from interlock.chain.sight import NOBODY, Glass, Sight
from interlock.chain.stepping import Numbers

__all__ = ["MANY", "Moves", "Steps", "Ways", "joined"]

_PATIENCE: Final = 200  # rounds of reactions after which a bench counts as never at rest
MANY: Final = 1 << 13  # moves that come to rest together; more do so device by device


@dataclass(frozen=True, slots=True)
class Moves:
    """The row that each move starts from, its event, the state it leads to, the sets under which it does."""

    row: Numbers
    event: Numbers
    words: Words
    bits: Bits

    def where(self, chosen: Truths) -> "Moves":
        """Some of the moves."""
        return Moves(self.row[chosen], self.event[chosen], self.words[chosen], self.bits[chosen])


@dataclass(frozen=True, slots=True)
class Ways:
    """Moves whose sets are what two masks have in common: that of the row they start from, and their own."""

    row: Numbers
    event: Numbers
    words: Words
    held: Numbers  # the number of the row's mask
    mask: Numbers

    def at(self, rows: Numbers | Truths) -> "Ways":
        """Some of the ways."""
        return Ways(self.row[rows], self.event[rows], self.words[rows], self.held[rows], self.mask[rows])


@dataclass(frozen=True, slots=True)
class _Going:
    """Ways that have not come to rest: from which way, the state, the mask."""

    origin: Numbers
    words: Words
    mask: Numbers

    def at(self, rows: Truths) -> "_Going":
        return _Going(self.origin[rows], self.words[rows], self.mask[rows])


class Steps:
    """Every event in given states, all reactions to it, and what observers make of it.

    `restless`: the sets under which some event was met that never comes to rest; such moves are left out.
    """

    def __init__(
        self, glass: Glass, masks: Masks, chain: ir.Chain, observers: tuple[ir.Observer, ...]
    ) -> None:
        self.glass, self.masks, self.observers = glass, masks, observers
        self.held = Held(glass.sets, masks)
        self.restless = np.zeros(glass.sets.width, np.uint64)
        self.work = 0  # what searches over these steps have done, in the words of bits of their states
        memories = {one.field.name for one in observers}
        self._watching = [(one, not memories.isdisjoint(_now(one))) for one in observers]
        self._events: dict[str, list[tuple[int, Outcomes]]] = defaultdict(list)
        for number, one in enumerate(chain.events):
            if one.steps:
                outcomes = Outcomes(glass, masks, one.device, one.steps, stays=False)
                self._events[one.device].append((number, outcomes))
        self._reactions = {
            one.device: Outcomes(glass, masks, one.device, one.steps, stays=True) for one in chain.reactions
        }
        looks_at = {one.device: _looks_at(one) for one in chain.reactions}
        self._seen_by = {
            field.name: [device for device, fields in looks_at.items() if field.name in fields]
            for field in chain.fields
        }

    @property
    def nbytes(self) -> int:
        """What the steps that were worked out take."""
        return 0

    def begin(self, number: int) -> Moves:
        """Power comes up in the state of the number, under every set."""
        return self.moves(self.begun(self.glass.layout.words([number]), np.full(1, ALL)))

    def begun(self, words: Words, held: Numbers) -> Ways:
        """Power comes up in these states, under the sets of a mask each; there was nothing before."""
        settled = self._at_rest(words, held)
        return self._remembered(settled, settled.words)

    def fire(self, words: Words, bits: Bits, events: frozenset[int]) -> Moves:
        """Each of the events, in each state where it can happen."""
        return self.moves(self.fired(words, self.held.numbers(bits), events))

    def know(self, words: Words, held: Numbers, *, arriving: bool) -> None:
        """These states will be asked for, under the sets of a mask each; `arriving`: also what faults do to them."""

    def moves(self, ways: Ways) -> Moves:
        """The ways with their sets."""
        return Moves(ways.row, ways.event, ways.words, self.held.under(ways.held, ways.mask))

    def fired(self, words: Words, held: Numbers, events: frozenset[int]) -> Ways:
        """Each of the events, in each state where it can happen, under the sets of a mask each."""
        return self._seen(words, [ways for _, ways in self._rested(words, held, events)])

    def _rested(self, words: Words, held: Numbers, events: frozenset[int]) -> Iterator[tuple[int, Ways]]:
        """Parts of what the events lead to at rest; after how many rounds of reactions a part is there."""
        raw: dict[str, Ways] = {}
        for device, outcomes in self._events.items():
            chosen = [(number, one) for number, one in outcomes if number in events]
            if chosen:
                raw[device] = joined([self._raw(words, held, number, one) for number, one in chosen])
        if sum(len(one.row) for one in raw.values()) <= MANY:
            devices = dict.fromkeys(one for device in raw for one in self._seen_by[device])
            yield from enumerate(self._settled(joined(list(raw.values())), devices)) if raw else ()
        else:
            for device, ways in raw.items():
                yield from enumerate(self._settled(ways, self._seen_by[device]))

    def arrived(self, words: Words, held: Numbers) -> Ways:
        """One more fault arrives, in each state under each of the sets of its mask."""
        return self._seen(words, list(self._settled(self._with_one_more(words, held), self._reactions)))

    def under(self, words: Words, held: Numbers) -> Ways:
        """The states as a fault has just arrived or gone, so that now the sets are those of a mask each."""
        return self._seen(words, [self._at_rest(words, held)])

    def _at_rest(self, words: Words, held: Numbers) -> Ways:
        """The states once all devices have reacted to what they see under the sets of a mask each."""
        nobody = np.full(len(words), NOBODY)
        ways = Ways(np.arange(len(words)), nobody, words, held, np.full(len(words), ALL))
        return joined([ways.at(ways.row[:0]), *self._settled(ways, self._reactions)])

    def _with_one_more(self, words: Words, held: Numbers) -> Ways:
        """The states as one more fault arrives, before anything reacts."""
        grown = self.held.one_more(held)
        row = np.flatnonzero(grown != NONE)
        return Ways(row, np.full(len(row), NOBODY), words[row], grown[row], np.full(len(row), ALL))

    def _seen(self, words: Words, parts: Sequence[Ways]) -> Ways:
        none = np.empty(0, np.int64)
        ways = joined([Ways(none, none, words[:0], none, none), *parts])
        return self._remembered(ways, words[ways.row])

    def _raw(self, words: Words, held: Numbers, number: int, outcomes: Outcomes) -> Ways:
        row, value, mask = outcomes.of(words)
        alive = np.flatnonzero(self.held.meet(held[row], mask))
        row, value, mask = row[alive], value[alive], mask[alive]
        return Ways(row, np.full(len(row), number), outcomes.put(words[row], value), held[row], mask)

    def _settled(self, ways: Ways, devices: Iterable[str]) -> Iterator[Ways]:
        """The ways as they come to rest, when these devices may react."""
        going = _Going(np.arange(len(ways.row)), ways.words, ways.mask)
        for _ in range(_PATIENCE):
            if not len(going.origin):
                return
            before, after, changed = self._round(going, ways.held, devices)
            moved = ~same(after.words, before)
            if not moved.any():
                yield _came(ways, after)
                return
            yield _came(ways, after.at(~moved))
            going = after.at(moved)
            devices = dict.fromkeys(one for device in changed for one in self._seen_by[device])
        self.restless |= np.bitwise_or.reduce(self.moves(_came(ways, going)).bits, axis=0)

    def _round(
        self, going: "_Going", held: Numbers, devices: Iterable[str]
    ) -> tuple[Words, "_Going", list[str]]:
        """One round in which every device sees the same moment; which devices it changed somewhere."""
        before, words, changed = going.words, going.words, list[str]()
        origin, mask = going.origin, going.mask
        for device in devices:
            reaction = self._reactions[device]
            row, value, under = reaction.of(before)
            limited = np.flatnonzero(under != ALL)
            if limited.size:
                mask = mask[row]
                alive = self._limited(held[origin[row]], mask, under, limited)
                row, value, mask = row[alive], value[alive], mask[alive]
                before, words, origin = before[row], words[row], origin[row]
            after = reaction.put(words, value)
            if (after != words).any():
                changed.append(device)
                words = after
        return before, _Going(origin, words, mask), changed

    def _limited(self, held: Numbers, mask: Numbers, under: Numbers, limited: Numbers) -> Truths:
        """Put a mask more to the limited ones of some masks; which still have anything in common with what is held."""
        alive, before = np.ones(len(mask), np.bool_), mask[limited]
        mask[limited] = now = self.masks.both(before, under[limited])
        alive[limited] = now != NONE
        less = limited[(now != NONE) & (now != before)]
        alive[less] = self.held.meet(held[less], mask[less])
        return alive

    def _remembered(self, ways: Ways, was: Words) -> Ways:
        """The observers brought up to date, in their order; they speak of people, so no fault touches them."""
        words, layout = ways.words, self.glass.layout
        sight = Sight(self.glass, words, was, ways.event)
        for observer, looks_at_others in self._watching:
            if looks_at_others:
                sight = Sight(self.glass, words, was, ways.event)
            after = words
            free = np.ones(len(words), np.bool_)
            for term, value in observer.updates:
                hit = free & sight.rows(term)
                free &= ~hit
                after = either(hit, layout.put(after, observer.field.name, value), after)
            words = after
        return Ways(ways.row, ways.event, words, ways.held, ways.mask)


def joined(parts: Sequence[Ways]) -> Ways:
    """All ways of the parts, one part after the other."""
    if len(parts) == 1:
        return parts[0]
    return Ways(
        np.concatenate([one.row for one in parts]),
        np.concatenate([one.event for one in parts]),
        np.concatenate([one.words for one in parts]),
        np.concatenate([one.held for one in parts]),
        np.concatenate([one.mask for one in parts]),
    )


def _came(ways: Ways, going: _Going) -> Ways:
    at = going.origin
    return Ways(ways.row[at], ways.event[at], going.words, ways.held[at], going.mask)


def _now(observer: ir.Observer) -> set[str]:
    """The fields of which it asks the present value."""
    atoms = (one for term, _ in observer.updates for one in ir.atoms(term))
    return {one.field for one in atoms if isinstance(one, ir.Now)}


def _looks_at(device: ir.Reactions) -> set[str]:
    """The fields that decide what a device does at once, its own among them."""
    atoms = (one for step in device.steps for one in ir.atoms(step.guard))
    return {device.device, *(one.field for one in atoms if not isinstance(one, ir.By))}
