"""What a device does next, looked up by the few fields that decide it, with the fault sets under which it does so."""

from collections.abc import Iterable, Iterator, Sequence
from functools import reduce

import numpy as np

from interlock.chain import ir
from interlock.chain.explore import Numbers
from interlock.chain.fault_sets import Bits
from interlock.chain.layout import Words
from interlock.chain.masks import NONE, Masks
from interlock.chain.sight import Glass, Sight

__all__ = ["Outcomes", "Truth"]


class _Known:
    """Rows of states reduced to the fields that matter, each worked out once."""

    def __init__(self, glass: Glass, fields: Iterable[str]) -> None:
        masks = (glass.layout.places[field].mask for field in fields if not glass.is_fault(field))
        self._mask = np.uint64(reduce(int.__or__, masks, 0))
        self._words, self._numbers = np.empty(0, np.uint64), np.empty(0, np.int64)

    def look(self, words: Words) -> tuple[Numbers, Words]:
        """The number of each row's case, and the cases that are new, which are numbered on from the last."""
        cases = words & self._mask
        at = self._find(cases)
        missing = self._words[at] != cases if len(self._words) else np.ones(len(cases), np.bool_)
        new = np.unique(cases[missing])
        if new.size:
            where = np.searchsorted(self._words, new)
            numbers = len(self._words) + np.arange(len(new))
            self._words = np.insert(self._words, where, new)
            self._numbers = np.insert(self._numbers, where, numbers)
            at = self._find(cases)
        return self._numbers[at], new

    def _find(self, cases: Words) -> Numbers:
        return np.minimum(np.searchsorted(self._words, cases), max(0, len(self._words) - 1))


class Truth:
    """The sets under which a term about the present holds, for each row of states."""

    def __init__(self, glass: Glass, masks: Masks, term: ir.Term) -> None:
        self._glass, self._masks, self._term = glass, masks, term
        self._known = _Known(glass, (one.field for one in ir.atoms(term) if not isinstance(one, ir.By)))
        self._found = np.empty(0, np.int64)

    def of(self, words: Words) -> Numbers:
        """The number of a mask for each row."""
        cases, new = self._known.look(words)
        if new.size:
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
        self._value, self._mask = np.empty(0, np.uint64), np.empty(0, np.int64)
        self._field = np.uint64(glass.layout.places[device].mask)

    def of(self, words: Words) -> tuple[Numbers, Words, Numbers]:
        """Row, the device's field as it becomes (in place, all else zero), mask: one or several for each row."""
        cases, new = self._known.look(words)
        if new.size:
            self._learn(new)
        first, count = self._first[cases], np.diff(self._first)[cases]
        if (count == 1).all():
            return np.arange(len(words)), self._value[first], self._mask[first]
        row = np.repeat(np.arange(len(words)), count)
        at = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + first[row]
        return row, self._value[at], self._mask[at]

    def put(self, words: Words, value: Words) -> Words:
        """The words with the device's field replaced."""
        return (words & ~self._field) | value

    def _learn(self, new: Words) -> None:
        found = sorted(self._cases(new), key=lambda one: one[0])
        counts = np.bincount([case for case, _, _ in found], minlength=len(new)).astype(np.int64)
        self._first = np.concatenate([self._first, self._first[-1] + np.cumsum(counts)])
        self._value = np.concatenate([self._value, np.array([one for _, one, _ in found], np.uint64)])
        self._mask = np.concatenate([self._mask, np.array([one for _, _, one in found], np.int64)])

    def _cases(self, new: Words) -> Iterator[tuple[int, int, int]]:
        """Case, value and mask of each outcome of the new cases."""
        sight, rest = Sight(self._glass, new), np.tile(self._glass.sets.every, (len(new), 1))
        place = self._glass.layout.places[self._device]
        for step in self._steps:
            here: Bits = self._glass.within(new, self._device, step.sources)[:, None]
            taken = rest & here & sight.truth(step.guard)
            rest &= ~taken
            value = place.values.index(step.to) << place.shift
            yield from ((at, value, mask) for at, mask in self._some(taken))
        if self._stays:
            own = new & self._field
            yield from ((at, int(own[at]), mask) for at, mask in self._some(rest))

    def _some(self, bits: Bits) -> Iterator[tuple[int, int]]:
        numbers: list[int] = self._masks.numbers(bits).tolist()
        yield from ((at, number) for at, number in enumerate(numbers) if number != NONE)
