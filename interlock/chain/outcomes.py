"""What a device does next, looked up by the few fields that decide it, with the fault sets under which it does so."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir
from interlock.chain.fault_sets import Bits
from interlock.chain.layout import Keys, Words, keys
from interlock.chain.masks import Masks
from interlock.chain.sight import Glass, Sight
from interlock.chain.stepping import Numbers

__all__ = ["Outcomes", "Truth"]


class _Known:
    """Rows of states reduced to the fields that matter, each worked out once."""

    def __init__(self, glass: Glass, fields: Iterable[str]) -> None:
        self._mask = glass.layout.mask(field for field in fields if not glass.is_fault(field))
        self._keys = keys(glass.layout.words([]))  # sorted
        self._numbers = np.empty(0, np.int64)

    def look(self, words: Words) -> tuple[Numbers, Words]:
        """The number of each row's case, and the cases that are new, which are numbered on from the last."""
        cases = words & self._mask
        key = keys(cases)
        at = self._find(key)
        missing = np.flatnonzero(self._keys[at] != key) if len(self._keys) else np.arange(len(key))
        if not missing.size:
            return self._numbers[at], cases[:0]
        new, first = np.unique(key[missing], return_index=True)
        where = np.searchsorted(self._keys, new)
        numbers = len(self._keys) + np.arange(len(new))
        self._keys = np.insert(self._keys, where, new)
        self._numbers = np.insert(self._numbers, where, numbers)
        return self._numbers[self._find(key)], cases[missing[first]]

    def _find(self, key: Keys) -> NDArray[np.intp]:
        return np.minimum(np.searchsorted(self._keys, key), max(0, len(self._keys) - 1))


class Truth:
    """The sets under which a term about the present holds, for each row of states."""

    def __init__(self, glass: Glass, masks: Masks, term: ir.Term) -> None:
        self._glass, self._masks, self._term = glass, masks, term
        self._known = _Known(glass, (one.field for one in ir.atoms(term) if not isinstance(one, ir.By)))
        self._found = np.empty(0, np.int64)

    def of(self, words: Words) -> Numbers:
        """The number of a mask for each row."""
        cases, new = self._known.look(words)
        if len(new):
            bits = Sight(self._glass, new).truth(self._term)
            spread = np.broadcast_to(bits, (len(new), self._glass.sets.width))
            self._found = np.concatenate([self._found, self._masks.numbers(spread)])
        return self._found[cases]


class Outcomes:
    """Where the first possible of some steps leads a device, and under which sets.

    `stays`: under the other sets it stays where it is; else nothing is told of them.
    """

    def __init__(
        self, glass: Glass, masks: Masks, device: str, steps: Sequence[ir.Step], *, stays: bool
    ) -> None:
        self._glass, self._masks, self._device, self._steps, self._stays = glass, masks, device, steps, stays
        fields = {one.field for step in steps for one in ir.atoms(step.guard) if not isinstance(one, ir.By)}
        self._known = _Known(glass, {device, *fields})
        self._first = np.zeros(1, np.int64)  # of each case, in the two lists below; and the end
        self._single = True  # each case has one outcome
        self._value, self._mask = np.empty(0, np.uint64), np.empty(0, np.int64)
        self._place = glass.layout.places[device]

    def of(self, words: Words) -> tuple[Numbers, Words, Numbers]:
        """Row, the device's field as it becomes (in place, all else zero), mask: one or several for each row."""
        cases, new = self._known.look(words)
        if len(new):
            self._learn(new)
        first = self._first[cases]
        if self._single:
            return np.arange(len(words)), self._value[first], self._mask[first]
        count = self._first[cases + 1] - first
        row = np.repeat(np.arange(len(words)), count)
        at = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + first[row]
        return row, self._value[at], self._mask[at]

    def put(self, words: Words, value: Words) -> Words:
        """The words with the device's field replaced."""
        found = words.copy()
        column = found if found.ndim == 1 else found[:, self._place.column]
        column &= ~np.uint64(self._place.mask)
        column |= value
        return found

    def _learn(self, new: Words) -> None:
        """Add the new cases: of each the value and the mask of every outcome."""
        parts = list(self._cases(new))
        case, value = (np.concatenate([part[at] for part in parts]) for at in range(2))
        mask = self._masks.numbers(np.concatenate([bits for _, _, bits in parts]))
        order, counts = np.argsort(case, kind="stable"), np.bincount(case, minlength=len(new))
        self._first = np.concatenate([self._first, self._first[-1] + np.cumsum(counts)])
        self._single = self._single and bool((counts == 1).all())
        self._value = np.concatenate([self._value, value[order]])
        self._mask = np.concatenate([self._mask, mask[order]])

    def _cases(self, new: Words) -> Iterator[tuple[Numbers, Words, Bits]]:
        """Step by step the cases in which it is taken, the value that it leads to, the sets."""
        sight, rest = Sight(self._glass, new), np.tile(self._glass.sets.every, (len(new), 1))
        place = self._place
        for step in self._steps:
            here: Bits = self._glass.within(new, self._device, step.sources)[:, None]
            taken = rest & here & sight.truth(step.guard)
            rest &= ~taken
            some = np.flatnonzero(taken.any(axis=1))
            value = np.full(len(some), place.values.index(step.to) << place.shift, np.uint64)
            yield some, value, taken[some]
        if self._stays:
            some = np.flatnonzero(rest.any(axis=1))
            own = (new if new.ndim == 1 else new[:, place.column]) & np.uint64(place.mask)
            yield some, own[some], rest[some]
