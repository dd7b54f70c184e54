"""What every event does, looked up by the class of the inputs: for all combinations of a class in one go."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from interlock.chain import ir, reference
from interlock.chain.arrays import Truths
from interlock.chain.bitsets import Shift
from interlock.chain.inputs import Inputs, Labels
from interlock.chain.layout import Layout, Words, unique
from interlock.chain.stepping import Numbers, fire, rest

__all__ = ["Edge", "Table"]

_BLOCK: Final = 1 << 17  # states that are stepped at a time


@dataclass(frozen=True, slots=True)
class Edge:
    """From a setting of the devices, some combinations of inputs, shifted, go to another setting."""

    source: int
    shift: Shift
    mask: Words | None  # of the combinations, as the shift wants it
    target: int
    restless: bool  # it never comes to rest instead


@dataclass(frozen=True, slots=True)
class _Slice:
    """Combinations of inputs in which an input has one value (or all), and what its events tell apart among them."""

    device: str | None  # the input; None: all other devices
    value: int
    shape: tuple[int, int]  # lowest bit and width of the input
    events: tuple[tuple[int, ir.Event], ...]
    kinds: Labels  # of each combination of the slice; the last kind is of numbers that are none
    examples: Words  # a state of each kind, all but the inputs at zero
    masks: dict[bytes, Words | None] = field(default_factory=dict)

    def shift(self, to: int) -> Shift:
        return Shift(*self.shape, self.value, to)

    def mask(self, kinds: Numbers) -> Words | None:
        """The combinations of these kinds; None: all."""
        chosen = np.zeros(len(self.examples) + 1, np.bool_)
        chosen[kinds] = True
        chosen[-1] = chosen[:-1].all()  # numbers that are no combination never occur
        key = chosen.tobytes()
        if key not in self.masks:
            self.masks[key] = self.shift(self.value).mask(chosen[self.kinds])
        return self.masks[key]


class Table:
    """Edges between settings of the devices that are no inputs; settings are numbered as they turn up."""

    def __init__(self, chain: ir.Chain, inputs: Inputs) -> None:
        own = {one.name for one in inputs.fields}
        others = [one for one in chain.fields if one.name not in own]
        self.chain, self.inputs = chain, inputs
        self.layout = Layout([*inputs.fields, *others])
        self.others = self.layout.mask(one.name for one in others)
        self._slices = list(self._sliced())
        self.examples = sum(len(one.examples) for one in self._slices)
        self._settings: dict[int, int] = {}
        self._fixed: list[int] = []

    @property
    def bytes(self) -> int:
        """What the masks take."""
        masks = (mask for one in self._slices for mask in one.masks.values() if mask is not None)
        return sum(mask.nbytes for mask in masks) + sum(one.kinds.nbytes for one in self._slices)

    def place(self, state: reference.State) -> tuple[int, int]:
        """The number of a state's setting, and that of its combination of inputs."""
        number = self.layout.pack({**{one.name: one.start for one in self.inputs.fields}, **state})
        low = number & (1 << self.inputs.bits) - 1
        return self._setting(number - low), low

    def state(self, setting: int, combination: int) -> reference.State:
        """The state of these numbers, by names."""
        found = self.layout.unpack(self._fixed[setting] | combination)
        return {one.name: found[one.name] for one in self.chain.fields}

    def _setting(self, fixed: int) -> int:
        if fixed not in self._settings:
            self._settings[fixed] = len(self._fixed)
            self._fixed.append(fixed)
        return self._settings[fixed]

    def edges(self, settings: list[int]) -> Iterator[Edge]:
        """All edges from these settings."""
        most = max(1, _BLOCK // max(1, self.examples))
        for at in range(0, len(settings), most):
            yield from self._edges(settings[at : at + most])

    def _edges(self, settings: list[int]) -> Iterator[Edge]:
        here = self.layout.words(self._fixed[one] for one in settings)
        parts = [self._fired(number, one, here) for number, one in enumerate(self._slices)]
        slice_, source, kind = (np.concatenate([part[at] for part in parts]) for at in range(3))
        settled, restless = rest(self.chain, self.layout, np.concatenate([part[3] for part in parts]))
        to = np.zeros(len(slice_), np.int64)
        for number, one in enumerate(self._slices):
            if one.device is not None:
                rows = slice_ == number
                to[rows] = self.layout.index(settled[rows], one.device)
        distinct, goal = unique(settled & self.others)
        target = np.array([self._setting(one) for one in self.layout.numbers(distinct)], np.int64)[goal]
        yield from self._grouped(settings, np.stack([source, slice_, to, target, restless]), kind)

    def _fired(self, number: int, one: _Slice, here: Words) -> tuple[Numbers, Numbers, Numbers, Words]:
        words = (here[:, None] | one.examples[None]).reshape(-1, *here.shape[1:])
        row, _, raw = fire(one.events, self.layout, words)
        source, kind = np.divmod(row, max(1, len(one.examples)))
        return np.full(len(row), number), source, kind, raw

    def _grouped(self, settings: list[int], columns: Numbers, kind: Numbers) -> Iterator[Edge]:
        """One edge for all kinds that go the same way."""
        order = np.lexsort(columns)
        columns, kind = columns[:, order], kind[order]
        first = np.flatnonzero((np.diff(columns, axis=1, prepend=-1) != 0).any(axis=0))
        for at, end in zip(first.tolist(), [*first[1:].tolist(), len(kind)], strict=False):
            source, number, to, target, restless = columns[:, at].tolist()
            one = self._slices[number]
            yield Edge(settings[source], one.shift(to), one.mask(kind[at:end]), target, bool(restless))

    def _sliced(self) -> Iterator[_Slice]:
        names, events = {one.name for one in self.inputs.fields}, list(enumerate(self.chain.events))
        lowest, many = max(self.inputs.bits, 6), self.inputs.many
        own = tuple((number, event) for number, event in events if event.device not in names)
        yield self._slice(None, 0, (lowest, 0), own, self.inputs.classes[None, None], [], many)
        for one in self.inputs.fields:
            place = self.layout.places[one.name]
            by = tuple((number, event) for number, event in events if event.device == one.name)
            cube = self.inputs.classes.reshape(-1, 1 << place.width, 1 << place.shift)
            steps = [step for _, event in by for step in event.steps]
            for value, name in enumerate(one.values):
                goals = sorted({one.values.index(step.to) for step in steps if name in step.sources})
                if goals:
                    yield self._slice(one.name, value, (place.shift, place.width), by, cube, goals, many)

    def _slice(
        self,
        device: str | None,
        value: int,
        shape: tuple[int, int],
        events: tuple[tuple[int, ir.Event], ...],
        cube: Labels,
        goals: list[int],
        many: int,
    ) -> _Slice:
        """Combinations told apart by their class and by that to which each step would lead."""
        kinds, none = cube[:, value], cube[:, value] == many
        for goal in goals:
            kinds = _compact(kinds.astype(np.int64) * (many + 1) + cube[:, goal])
        kinds, count = _numbered(kinds, none)
        first = np.zeros(count + 1, np.int64)
        flat = kinds.ravel()
        first[flat[::-1]] = np.arange(len(flat))[::-1]
        above, below = np.divmod(first[:count], cube.shape[2])
        low = (above * cube.shape[1] + value) * cube.shape[2] + below
        return _Slice(device, value, shape, events, kinds, self.layout.words(low.tolist()))


def _compact(labels: Numbers) -> Labels:
    used = np.bincount(labels.ravel()) > 0
    return (np.cumsum(used) - 1).astype(np.uint16)[labels]


def _numbered(labels: Labels, none: Truths) -> tuple[Labels, int]:
    """Labels without gaps; the last one, their count, is of those that are none."""
    used = np.bincount(labels[~none], minlength=int(labels.max()) + 1) > 0
    found = (np.cumsum(used) - 1).astype(np.uint16)[labels]
    count = int(used.sum())
    found[none] = count
    return found, count
