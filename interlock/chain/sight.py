"""Terms seen over many states under many fault sets at once: each truth is a row of bits, one for each set.

A truth that no fault touches has one column for all sets, one that only faults decide has one row for all
states; numpy spreads them where they meet.
"""

from collections.abc import Callable
from functools import reduce
from typing import Final, assert_never

import numpy as np

from interlock.chain import ir
from interlock.chain.arrays import Truths
from interlock.chain.fault_sets import Bits, FaultSets
from interlock.chain.layout import Layout, Words
from interlock.chain.stepping import Numbers

__all__ = ["NOBODY", "Glass", "Sight"]

NOBODY: Final = -1
"""The number of an event that is no act and no late reaction: a fault arrives, or power comes up."""
_ALL: Final = np.uint64(0xFFFFFFFFFFFFFFFF)
_NONE: Final = np.uint64(0)


class Glass:
    """What is needed to read packed states: where fields lie, and which sets hold which fault."""

    def __init__(self, layout: Layout, sets: FaultSets, fields: dict[str, str]) -> None:
        self.layout, self.sets = layout, sets
        self._faults = fields  # the fault of each fault's field
        self._tables: dict[tuple[str, frozenset[str]], Words] = {}

    def is_fault(self, field: str) -> bool:
        """The field tells of a fault, not of a state."""
        return field in self._faults

    def having(self, field: str, values: frozenset[str]) -> Bits:
        """The sets in which the fault of the field has one of the values."""
        held = self.sets.having(self._faults[field])
        return (held if "present" in values else np.zeros_like(held)) | (
            ~held if "absent" in values else np.zeros_like(held)
        )

    def within(self, words: Words, field: str, values: frozenset[str]) -> Words:
        """All bits of each word whose field has one of the values, none of the others."""
        place, key = self.layout.places[field], (field, values)
        if key not in self._tables:
            chosen = [_ALL if value in values else _NONE for value in place.values]
            self._tables[key] = np.array(chosen + [_NONE] * ((1 << place.width) - len(chosen)), np.uint64)
        return self._tables[key][self.layout.index(words, field)]


class Sight:
    """Truths about rows of states, or of events that led from one state to the next."""

    def __init__(
        self, glass: Glass, now: Words, was: Words | None = None, event: Numbers | None = None
    ) -> None:
        self._glass, self._now, self._was, self._event = glass, now, was, event
        self._known: dict[
            int, tuple[ir.Term, Bits]
        ] = {}  # by identity: parts are shared, and hashing is dear

    def truth(self, term: ir.Term) -> Bits:
        """Rows by columns of bits; one row or one column where all are alike."""
        found = self._known.get(id(term))
        if found is None:
            found = self._known[id(term)] = term, self._truth(term)
        return found[1]

    def _truth(self, term: ir.Term) -> Bits:
        match term:
            case ir.Const(truth):
                return np.full((1, 1), _ALL if truth else _NONE)
            case ir.Now() | ir.Was() | ir.By():
                return self._atom(term)
            case ir.No(part):
                return ~self.truth(part)
            case ir.All(parts):
                return self._joined(np.bitwise_and, parts)
            case ir.Any(parts):
                return self._joined(np.bitwise_or, parts)
            case _:
                assert_never(term)

    def rows(self, term: ir.Term) -> Truths:
        """The truth of a term that no fault touches, one for each row."""
        found = self.truth(term)
        if found.shape[1] != 1:
            raise TypeError(f"{term} speaks of faults")
        return np.broadcast_to(found[:, 0] != 0, (len(self._now),))

    def _joined(self, join: Callable[[Bits, Bits], Bits], parts: tuple[ir.Term, ...]) -> Bits:
        """Parts of one column first, so that the wide ones meet them joined."""
        truths = sorted((self.truth(part) for part in parts), key=lambda one: one.size)
        return reduce(join, truths)

    def _atom(self, atom: ir.Now | ir.Was | ir.By) -> Bits:
        match atom:
            case ir.By(events):
                if self._event is None:
                    raise TypeError("an event is spoken of where there is none")
                return np.where(np.isin(self._event, sorted(events)), _ALL, _NONE)[:, None]
            case ir.Now(field, values) | ir.Was(field, values) if self._glass.is_fault(field):
                return self._glass.having(field, values)[None, :]
            case ir.Now(field, values):
                return self._glass.within(self._now, field, values)[:, None]
            case ir.Was(field, values):
                if self._was is None:
                    raise TypeError("the past is spoken of where there is none")
                return self._glass.within(self._was, field, values)[:, None]
            case _:
                assert_never(atom)
