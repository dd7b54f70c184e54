"""The columns of all parts of a file one after another, so that each part can be let go when it is read."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.excerpt import Excerpt, Long
from interlock.trace.lines import MOST_BUSES, TooManyBusesError
from interlock.trace.model import Columns
from interlock.trace.payloads import NONE, Payloads, filled, wanted

__all__ = ["Pile"]

_FEW: Final = 1 << 19  # rows that get room at least
_FIELDS: Final = ("times_ns", "idents", "extended", "lengths", "places", "channels")


class _Column:
    """An array that has room for more.

    Pages of an array that nobody wrote to take no memory; so room is taken at once, and parts are soon let go.
    """

    def __init__(self) -> None:
        self._array: NDArray[Any] | None = None
        self.rows = 0

    @property
    def bytes(self) -> int:
        """Of all rows."""
        return 0 if self._array is None else self._array[: self.rows].nbytes

    def add(self, block: NDArray[Any]) -> None:
        """Put these rows behind the others; narrower ones are filled up with zeros."""
        end = self.rows + len(block)
        if not self.rows:
            self._array = block
        else:
            there = self._room(end, block)
            here = there[self.rows : end]
            if block.ndim == 2:
                here[:, block.shape[1] :] = 0
                here = here[:, : block.shape[1]]
            here[:] = block
        self.rows = end

    def _room(self, rows: int, block: NDArray[Any]) -> NDArray[Any]:
        """The array with room for so many rows, as wide as this block at least; what is there is taken over."""
        there = self.whole(block)
        wider = there.shape[1:] < block.shape[1:] or np.promote_types(there.dtype, block.dtype) != there.dtype
        if self._array is not None and len(self._array) >= rows and not wider:
            return self._array
        most = max(_FEW, 2 * rows, 0 if self._array is None else len(self._array))
        room = np.empty(
            (most, *max(there.shape[1:], block.shape[1:])), np.promote_types(there.dtype, block.dtype)
        )
        if there.ndim == 2:
            room[: self.rows, there.shape[1] :] = 0
            room[: self.rows, : there.shape[1]] = there
        else:
            room[: self.rows] = there
        self._array = room
        return room

    def whole(self, empty: NDArray[Any]) -> NDArray[Any]:
        """All rows; if none were added, none of this kind."""
        return empty[:0] if self._array is None else self._array[: self.rows]


class Pile:
    """The columns of the parts one after another.

    From the first frame of more than eight bytes on, of each payload that is kept which is going to be asked for; where
    no message of more than eight bytes is, the first eight of each.
    """

    def __init__(self, place_is: str) -> None:
        self.place_is = place_is
        self.channels: dict[str, int] = {}
        self._columns = {name: _Column() for name in (*_FIELDS, "data")}
        self._sorted: _Sorted | None = None
        self._first: Columns | None = None

    @property
    def rows(self) -> int:
        """Frames on the pile."""
        return self._columns["times_ns"].rows

    @property
    def payload_bytes(self) -> int:
        """Of all of them, what is kept."""
        return self._columns["data"].bytes if self._sorted is None else self._sorted.bytes

    def add(self, part: Columns, channels: tuple[str, ...] = ()) -> None:
        """Put these columns on the pile; the names of their buses are joined to those of the parts before."""
        if channels:
            numbers = [self.channels.setdefault(name, len(self.channels)) for name in channels]
            if len(self.channels) > MOST_BUSES:
                raise TooManyBusesError
            if numbers != list(range(len(numbers))):
                part = replace(part, channels=np.array(numbers, np.uint16)[part.channels])
        self._first = self._first or part
        if part.wide or part.data.shape[1] > 8:
            part = self._cut(part)
        if self._sorted is not None:
            self._sorted.add(part)
        else:
            self._columns["data"].add(part.data)
        for name in _FIELDS:
            self._columns[name].add(getattr(part, name) if name != "places" else _short(part.places))

    def _cut(self, part: Columns) -> Columns:
        """A part with payloads over eight bytes with as much of them as is going to be asked for."""
        plans = wanted()
        if plans is None:
            return replace(part, data=filled(part.data, part.wide), wide=()) if part.wide else part
        if not any(plans.values()):
            return replace(part, data=np.ascontiguousarray(part.data[:, :8]), wide=())
        if self._sorted is None:
            self._sorted = _Sorted(self._columns.pop("data"), plans, part.data)
        return part

    def columns(self) -> Columns:
        """All of it as one; at least one part was added."""
        if self._first is None:
            raise ValueError("nothing was piled up")
        joined: dict[str, Any] = {
            name: column.whole(getattr(self._first, name)) for name, column in self._columns.items()
        }
        if self._sorted is not None:
            joined["payloads"] = self._sorted.payloads()
            joined["data"] = joined["payloads"].narrow[:0]
        return Columns(**joined, absolute=False, place_is=self.place_is)


def _short(places: NDArray[np.int64]) -> NDArray[Any]:
    """The same in four bytes each, where they fit."""
    return places.astype(np.uint32) if not len(places) or int(places.max()) >> 32 == 0 else places


class _Sorted:
    """Payloads of short messages, and excerpts of those of long ones; those of other frames are left out."""

    def __init__(
        self, before: _Column, plans: Mapping[int, Excerpt | None], model: NDArray[np.uint8]
    ) -> None:
        self._plans = dict(sorted(plans.items()))
        self._keys = np.array(list(self._plans), np.uint32)
        self._short = np.array([plan is None for plan in self._plans.values()], np.bool_)
        self._narrow, self._at, self._model = before, _Column(), model
        self._at.add(-2 - np.arange(before.rows, dtype=np.int32))
        self._long: dict[int, _Excerpts] = {}

    @property
    def bytes(self) -> int:
        """Of all payloads, what is kept."""
        return 8 * self._narrow.rows + sum(one.bytes for one in self._long.values())

    def add(self, part: Columns) -> None:
        """Put the payloads of these frames in."""
        number, known = self._numbers(part.idents | part.extended.astype(np.uint32) << np.uint32(31))
        short = known.copy()
        short[known] = self._short[number[known]]
        at = np.full(len(known), NONE, np.int32)
        at[short] = -2 - self._narrow.rows - np.arange(int(short.sum()), dtype=np.int32)
        self._narrow.add(part.data[short, :8])
        known &= ~short
        for one in np.unique(number[known]).tolist():
            key, plan = int(self._keys[one]), self._plans[int(self._keys[one])]
            if plan is not None:
                rows = np.flatnonzero(known & (number == one) & plan.fits(part.lengths))
                held = self._long.setdefault(key, _Excerpts(plan))
                at[rows] = held.rows + np.arange(len(rows), dtype=np.int32)
                if len(rows):
                    held.add(filled(part.data, part.wide, rows) if part.wide else part.data[rows])
        self._at.add(at)

    def _numbers(self, keys: NDArray[np.uint32]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
        """Of each key its number among those that are wanted, and whether it is one of them."""
        if not len(self._keys):
            return np.zeros(len(keys), np.intp), np.zeros(len(keys), np.bool_)
        number = np.minimum(np.searchsorted(self._keys, keys), len(self._keys) - 1)
        return number, self._keys[number] == keys

    def payloads(self) -> Payloads:
        """All of them."""
        return Payloads(
            self._at.whole(np.zeros(0, np.int32)),
            self._narrow.whole(self._model[:, :8]),
            {key: one.whole() for key, one in self._long.items() if one.rows},
        )


class _Excerpts:
    """What is kept of the payloads of one message, part by part."""

    def __init__(self, plan: Excerpt) -> None:
        self._plan, self.rows = plan, 0
        self._columns: dict[Any, _Column] = {}

    @property
    def bytes(self) -> int:
        """Of all of them."""
        return self.rows * len(self._plan.places)

    def add(self, data: NDArray[np.uint8]) -> None:
        """Put in what is kept of these payloads; a flaw that comes for the first time was none before."""
        found = self._plan.columns(data)
        self.rows += len(data)
        for name in {**self._columns, **found}:
            column = self._columns.setdefault(name, _Column())
            block = found.get(name, np.zeros(len(data), np.bool_))
            if column.rows + len(block) < self.rows:
                column.add(np.zeros(self.rows - len(block), np.bool_))
            column.add(block)

    def whole(self) -> Long:
        """All of it."""
        none = np.zeros(0, np.bool_)
        return Long(self._plan, {name: one.whole(none) for name, one in self._columns.items()})
