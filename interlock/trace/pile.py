"""The columns of all parts of a file one after another, so that each part can be let go when it is read."""

from dataclasses import replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.model import Columns

__all__ = ["Pile"]

_FEW: Final = 1 << 21  # rows that get room at least
_FIELDS: Final = ("times_ns", "idents", "extended", "lengths", "data", "places", "channels")


class Pile:
    """Columns in arrays that have room for more.

    Pages of an array that nobody wrote to take no memory; so room is taken at once, and parts are soon let go.
    """

    def __init__(self, place_is: str) -> None:
        self.place_is = place_is
        self.fields: dict[str, NDArray[Any]] = {}
        self.channels: dict[str, int] = {}
        self.rows = 0

    def add(self, part: Columns, channels: tuple[str, ...] = ()) -> None:
        """Put these columns on the pile; the names of their buses are joined to those of the parts before."""
        if channels:
            numbers = [self.channels.setdefault(name, len(self.channels)) for name in channels]
            if numbers != list(range(len(numbers))):
                part = replace(part, channels=np.array(numbers, np.uint16)[part.channels])
        end = self.rows + len(part.times_ns)
        for name in _FIELDS:
            block = getattr(part, name)
            if not self.rows:
                self.fields[name] = block
                continue
            if self.fields[name].shape[1:] < block.shape[1:]:
                self._make_room(name, end, block.shape[1:])
            elif len(self.fields[name]) < end:
                self._make_room(name, end, self.fields[name].shape[1:])
            here = self.fields[name][self.rows : end]
            if block.ndim == 2:
                here[:, block.shape[1] :] = 0
                here = here[:, : block.shape[1]]
            here[:] = block
        self.rows = end

    def _make_room(self, name: str, rows: int, wide: tuple[int, ...]) -> None:
        """An array so wide, for these rows and more; what is there already is taken over."""
        there = self.fields[name]
        most = max(_FEW, 2 * rows, len(there))
        room = np.empty((most, *wide), there.dtype)
        if there.ndim == 2:
            room[: self.rows, there.shape[1] :] = 0
            room[: self.rows, : there.shape[1]] = there[: self.rows]
        else:
            room[: self.rows] = there[: self.rows]
        self.fields[name] = room

    def columns(self) -> Columns:
        """All of it as one; at least one part was added."""
        joined = {name: array[: self.rows] for name, array in self.fields.items()}
        return Columns(**joined, absolute=False, place_is=self.place_is)
