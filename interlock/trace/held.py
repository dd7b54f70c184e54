"""Wires that are recorded at their changes, thinned as they come: instants at which nothing wanted changed are let go.

An instant becomes two rows, see `interlock.trace.sampled.before_and_after`. Of a stretch over which every wire kept its
value the first and the last row are enough: each edge keeps the rows on both sides of it, so its bounds stay the same.
Only where stamps run backwards, which puts the record in doubt anyhow, may a row be gone that would have narrowed one.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["Held", "Instants", "Rows"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Instants:
    """Instants that follow those given before, and the changes at them."""

    times_ns: Ints  # [n]
    places: Ints  # [n]
    at: Ints  # [changes], ascending: -1 the last instant given before, 0 the first of these, ...
    wires: NDArray[np.int32]  # [changes]
    values: Floats  # [changes]; of several of a wire at one instant the last holds
    needed: Ints = field(
        default_factory=lambda: np.zeros(0, np.int64)
    )  # instants that must stay, numbered as `at`


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """What is left: two rows an instant but for the first, and the number of each of these instants."""

    times_ns: Ints
    places: Ints
    values: tuple[Floats, ...]  # of each wire; NaN: not known
    instants: Ints

    def row_of(self, instant: int) -> int:
        """The row at an instant that was kept, of another one that at the last kept before it."""
        return max(0, 2 * (int(np.searchsorted(self.instants, instant, side="right")) - 1))


class Held:
    """The instants that are kept of all that were given; the last one waits, as it may still change."""

    def __init__(self, wires: int, step_ns: int) -> None:
        self.step_ns = step_ns
        self.instants = 0  # all that were given
        self.kept = 0
        self._last: tuple[int, int, int, bool] | None = None  # time, row before it, place, must stay
        self._now = np.full(wires, np.nan)  # values at the last instant
        self._shown = np.full(wires, np.nan)  # values at the one before
        self._highest = -(1 << 62)  # of the times before the last
        self._open_ns: int | None = None  # the first instant later than this must stay
        self._blocks: list[tuple[Ints, Ints, Ints, Ints, list[Floats]]] = []

    def add(self, more: Instants) -> None:
        """Take these in."""
        waiting = self._last is not None
        times, before, places, stays = self._joined(more)
        if not len(times):
            return
        offset = 1 if waiting else 0
        self._stay(stays, times, more.needed + offset)
        held = [
            _held(float(self._now[wire]), len(times), more.at[here] + offset, more.values[here])
            for wire, here in enumerate(_by_wire(more.wires, len(self._now)))
        ]
        stays |= self._backwards(times)
        differ = np.zeros(len(times), np.bool_)  # not to be kept for the last instant, which may change back
        for wire, values in enumerate(held):
            differ |= _differ(np.concatenate([self._shown[wire : wire + 1], values[:-1]]), values)
        number = self.instants - offset
        if number == 0:
            stays[0] = True
        self._keep(np.flatnonzero((stays | differ)[:-1]), number, times, before, places, held)
        self.instants = number + len(times)
        self._last = int(times[-1]), int(before[-1]), int(places[-1]), bool(stays[-1])
        if len(times) > 1:
            self._highest = max(self._highest, int(times[:-1].max()))
            self._shown = np.array([values[-2] for values in held])
        self._now = np.array([values[-1] for values in held])

    def _stay(self, stays: Flags, times: Ints, needed: Ints) -> None:
        """Mark the needed instants, and after each the first one that is later: a doubt may begin between them."""
        rising = np.maximum.accumulate(np.maximum(times, self._highest))
        needed = needed[needed >= 0]
        stays[needed] = True
        open_ns = rising[needed] if self._open_ns is None else np.append(rising[needed], self._open_ns)
        later = np.searchsorted(rising, open_ns, side="right")
        inside = later < len(times)
        stays[later[inside]] = True
        self._open_ns = None if inside.all() else int(open_ns[~inside].max())

    def _joined(self, more: Instants) -> tuple[Ints, Ints, Ints, Flags]:
        """The instant that waited and the new ones: times, rows before them, places, and whether they must stay."""
        times, places = more.times_ns, more.places
        stays = np.zeros(len(times), np.bool_)
        previous = self._last[0] if self._last else int(times[0]) if len(times) else 0
        earlier = np.concatenate([[previous], times[:-1]])[: len(times)]
        before = np.maximum(times - self.step_ns, np.minimum(earlier, times))
        if self._last is None:
            return times, before, places, stays
        time, row, place, stay = self._last
        return (
            np.concatenate([[time], times]),
            np.concatenate([[row], before]),
            np.concatenate([[place], places]),
            np.concatenate([[stay], stays]),
        )

    def _backwards(self, times: Ints) -> Flags:
        """Instants before one above them, and those on both sides of a run of such."""
        behind = times < np.maximum.accumulate(np.maximum(times, self._highest))
        near = behind.copy()
        near[:-1] |= behind[1:]
        near[1:] |= behind[:-1]
        return near

    def _keep(
        self, rows: Ints, first: int, times: Ints, before: Ints, places: Ints, held: Sequence[Floats]
    ) -> None:
        if len(rows):
            self.kept += len(rows)
            values = [one[rows] for one in held]
            self._blocks.append((first + rows, times[rows], before[rows], places[rows], values))

    def rows(self) -> Rows:
        """All that is kept, the last instant in any case; nothing can be added after this."""
        if self._last is not None:
            last, above, place, _ = self._last
            one = np.zeros(1, np.int64)
            values = [self._now[wire : wire + 1] for wire in range(len(self._now))]
            self._keep(one, self.instants - 1, one + last, one + above, one + place, values)
            self._last = None
        if not self._blocks:
            none = np.zeros(0, np.int64)
            return Rows(none, none, tuple(none.astype(np.float64) for _ in self._now), none)
        numbers, times, before, places, held = zip(*self._blocks, strict=True)
        self._blocks = []
        both = np.repeat(np.concatenate(times), 2)[1:]
        both[1::2] = np.concatenate(before)[1:]
        shown = tuple(np.repeat(np.concatenate(wire), 2)[:-1] for wire in zip(*held, strict=True))
        return Rows(both, np.repeat(np.concatenate(places), 2)[1:], shown, np.concatenate(numbers))


def _by_wire(wires: NDArray[np.int32], count: int) -> list[Ints]:
    return [np.flatnonzero(wires == wire) for wire in range(count)]


def _held(now: float, instants: int, at: Ints, values: Floats) -> Floats:
    """The value at each instant, from the changes at some of them."""
    held = np.full(instants, now)
    last = np.zeros(instants, np.int64)
    held[at] = values  # of several at one instant the last one stays
    last[at] = at
    np.maximum.accumulate(last, out=last)
    return held[last]


def _differ(one: Floats, other: Floats) -> Flags:
    differ: Flags = (one != other) & ~(np.isnan(one) & np.isnan(other))
    return differ
