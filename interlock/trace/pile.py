"""The columns of all parts of a file one after another, so that each part can be let go when it is read."""

from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.model import Columns
from interlock.trace.payloads import NONE, Payloads, wanted

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
        wider = there.shape[1:] < block.shape[1:]
        if self._array is not None and len(self._array) >= rows and not wider:
            return self._array
        most = max(_FEW, 2 * rows, 0 if self._array is None else len(self._array))
        room = np.empty((most, *max(there.shape[1:], block.shape[1:])), there.dtype)
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

    From the first frame of more than eight bytes on, payloads of frames that nobody is going to decode are left out.
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

    def add(self, part: Columns, channels: tuple[str, ...] = ()) -> None:
        """Put these columns on the pile; the names of their buses are joined to those of the parts before."""
        if channels:
            numbers = [self.channels.setdefault(name, len(self.channels)) for name in channels]
            if numbers != list(range(len(numbers))):
                part = replace(part, channels=np.array(numbers, np.uint16)[part.channels])
        self._first = self._first or part
        keys = wanted()
        if keys is not None and self._sorted is None and part.data.shape[1] > 8:
            self._sorted = _Sorted(self._columns.pop("data"), keys, part.data)
        if self._sorted is not None:
            self._sorted.add(part)
        else:
            self._columns["data"].add(part.data)
        for name in _FIELDS:
            self._columns[name].add(getattr(part, name))

    def columns(self) -> Columns:
        """All of it as one; at least one part was added."""
        if self._first is None:
            raise ValueError("nothing was piled up")
        joined: dict[str, Any] = {
            name: column.whole(getattr(self._first, name)) for name, column in self._columns.items()
        }
        if self._sorted is not None:
            joined["payloads"] = self._sorted.payloads()
            joined["data"] = joined["payloads"].wide[:0]
        return Columns(**joined, absolute=False, place_is=self.place_is)


class _Sorted:
    """Payloads by their width, those of frames of other keys left out."""

    def __init__(self, before: _Column, keys: NDArray[np.uint32], model: NDArray[np.uint8]) -> None:
        self._keys, self._model = keys, model
        self._narrow, self._wide, self._at = before, _Column(), _Column()
        self._at.add(-2 - np.arange(before.rows, dtype=np.int32))

    def add(self, part: Columns) -> None:
        """Put the payloads of these frames in."""
        keys = part.idents | part.extended.astype(np.uint32) << np.uint32(31)
        found = np.searchsorted(self._keys, keys)
        kept = np.zeros(len(keys), np.bool_)
        inside = found < len(self._keys)
        kept[inside] = self._keys[found[inside]] == keys[inside]
        wide = kept & (part.lengths > 8)
        narrow = kept & ~wide
        at = np.full(len(keys), NONE, np.int32)
        at[wide] = self._wide.rows + np.arange(int(wide.sum()), dtype=np.int32)
        at[narrow] = -2 - self._narrow.rows - np.arange(int(narrow.sum()), dtype=np.int32)
        self._at.add(at)
        self._wide.add(part.data[wide])
        self._narrow.add(part.data[narrow, :8])

    def payloads(self) -> Payloads:
        """All of them."""
        narrow, at = self._narrow.whole(self._model[:, :8]), np.zeros(0, np.int32)
        return Payloads(self._at.whole(at), narrow, self._wide.whole(self._model))
