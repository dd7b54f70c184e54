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
from interlock.chain.explore import Numbers
from interlock.chain.fault_sets import Bits
from interlock.chain.layout import Words
from interlock.chain.masks import ALL, Masks
from interlock.chain.outcomes import Outcomes
from interlock.chain.sight import NOBODY, Glass, Sight

__all__ = ["Moves", "Steps", "joined"]

_PATIENCE: Final = 200  # rounds of reactions after which a bench counts as never at rest


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


class Steps:
    """Every event in given states, all reactions to it, and what observers make of it.

    `restless`: the sets under which some event was met that never comes to rest; such moves are left out.
    """

    def __init__(
        self, glass: Glass, masks: Masks, chain: ir.Chain, observers: tuple[ir.Observer, ...]
    ) -> None:
        self.glass, self.masks, self.observers = glass, masks, observers
        self.restless = np.zeros(glass.sets.width, np.uint64)
        self._events: dict[str, list[tuple[int, Outcomes]]] = defaultdict(list)
        for number, one in enumerate(chain.events):
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

    def begin(self, word: int) -> Moves:
        """Power comes up in the state of the word, under every set."""
        raw = np.array([word], np.uint64)
        start = Moves(np.zeros(1, np.int64), np.full(1, NOBODY), raw, self.glass.sets.every[None, :].copy())
        settled = joined(list(self._settled(start, self._reactions)))
        return self._remembered(settled, settled.words)

    def fire(self, words: Words, bits: Bits, events: frozenset[int]) -> Moves:
        """Each of the events, in each state where it can happen."""
        parts: list[Moves] = []
        for device, outcomes in self._events.items():
            chosen = [(number, one) for number, one in outcomes if number in events]
            if fired := [self._fired(words, bits, number, one) for number, one in chosen]:
                parts += self._settled(joined(fired), self._seen_by[device])
        return self._seen(words, bits, parts)

    def arrive(self, words: Words, bits: Bits) -> Moves:
        """One more fault arrives, in each state under each of its sets."""
        grown = self.glass.sets.one_more(bits)
        row = np.flatnonzero(grown.any(axis=1))
        moves = Moves(row, np.full(len(row), NOBODY), words[row], grown[row])
        return self._seen(words, bits, list(self._settled(moves, self._reactions)))

    def _seen(self, words: Words, bits: Bits, parts: Sequence[Moves]) -> Moves:
        none = Moves(*(np.empty(0, np.int64),) * 2, np.empty(0, np.uint64), bits[:0])
        moves = joined([none, *parts])
        return self._remembered(moves, words[moves.row])

    def _fired(self, words: Words, bits: Bits, number: int, outcomes: Outcomes) -> Moves:
        row, value, mask = outcomes.of(words)
        moves = Moves(row, np.full(len(row), number), outcomes.put(words[row], value), bits[row])
        return self._under(moves, mask)

    def _under(self, moves: Moves, mask: Numbers) -> Moves:
        """The moves under the sets of a mask each, without those that are left with none."""
        bits = moves.bits & self.masks.bits[mask]
        kept: Truths = np.atleast_1d(bits.any(axis=1))
        moves = Moves(moves.row, moves.event, moves.words, bits)
        return moves if kept.all() else moves.where(kept)

    def _settled(self, moves: Moves, devices: Iterable[str]) -> Iterator[Moves]:
        """The moves as they come to rest, when these devices may react."""
        for _ in range(_PATIENCE):
            if not len(moves.row):
                return
            before, after, changed = self._round(moves, devices)
            still = after.words == before
            yield after.where(still)
            moves = after.where(~still)
            devices = dict.fromkeys(one for device in changed for one in self._seen_by[device])
        self.restless |= np.bitwise_or.reduce(moves.bits, axis=0)

    def _round(self, moves: Moves, devices: Iterable[str]) -> tuple[Words, Moves, list[str]]:
        """One round in which every device sees the same moment; which devices it changed somewhere."""
        before, changed = moves.words, []
        for device in devices:
            reaction = self._reactions[device]
            row, value, mask = reaction.of(before)
            if len(row) > len(before) or (mask != ALL).any():
                bits = moves.bits[row] & self.masks.bits[mask]
                kept = np.flatnonzero(bits.any(axis=1))
                row, value = row[kept], value[kept]
                before = before[row]
                moves = Moves(moves.row[row], moves.event[row], moves.words[row], bits[kept])
            words = reaction.put(moves.words, value)
            if (words != moves.words).any():
                changed.append(device)
            moves = Moves(moves.row, moves.event, words, moves.bits)
        return before, moves, changed

    def _remembered(self, moves: Moves, was: Words) -> Moves:
        """The observers brought up to date, in their order; they speak of people, so no fault touches them."""
        words, layout = moves.words, self.glass.layout
        for observer in self.observers:
            sight, after = Sight(self.glass, words, was, moves.event), words
            free = np.ones(len(words), np.bool_)
            for term, value in observer.updates:
                hit = free & sight.rows(term)
                free &= ~hit
                after = np.where(hit, layout.put(after, observer.field.name, value), after)
            words = after
        return Moves(moves.row, moves.event, words, moves.bits)


def joined(parts: Sequence[Moves]) -> Moves:
    """All moves of the parts, one part after the other."""
    if len(parts) == 1:
        return parts[0]
    return Moves(
        np.concatenate([one.row for one in parts]),
        np.concatenate([one.event for one in parts]),
        np.concatenate([one.words for one in parts]),
        np.concatenate([one.bits for one in parts]),
    )


def _looks_at(device: ir.Reactions) -> set[str]:
    """The fields that decide what a device does at once, its own among them."""
    atoms = (one for step in device.steps for one in ir.atoms(step.guard))
    return {device.device, *(one.field for one in atoms if not isinstance(one, ir.By))}
