"""Long text files in parts, so that a file of any length needs memory for its frames only."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import accumulate
from pathlib import Path
from typing import Any, BinaryIO, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from interlock.trace.bulk import tabulate
from interlock.trace.lines import split
from interlock.trace.model import Columns, Ledger, slim
from interlock.trace.reading import Oddity, Reading, Rejected, grouped
from interlock.trace.shape import Grammar
from interlock.trace.text import TimeBase, dated, part_of

__all__ = ["PART", "Digest", "parts_of", "read_parts"]

PART: Final = 1 << 25
"""Bytes of a file that are read together."""


_ROOM: Final = 8  # times as many rows as there are get room when the first part is full
_FIELDS: Final = ("times_ns", "idents", "extended", "lengths", "data", "places", "channels")


class Digest(Protocol):
    """Something that sums up bytes."""

    def update(self, data: bytes, /) -> None:
        """Take these bytes in."""


def parts_of(stream: BinaryIO, first: bytes, digest: Digest) -> Iterator[bytes]:
    """A file in parts that end with a line, from its first bytes on; all bytes but the first go into the digest."""
    rest = first
    while more := stream.read(PART):
        digest.update(more)
        cut = rest.rfind(b"\n") + 1
        if cut:
            yield rest[:cut]
        rest = rest[cut:] + more
    yield rest


def read_parts(
    name: str,
    path: Path,
    parts: Iterable[bytes],
    grammar: Grammar,
    notes: Callable[[bytes], tuple[str, ...]] = lambda _: (),
) -> Reading:
    """Reads a file whose lines each stand for themselves; `notes` says what its first part lets assume."""
    readings: list[Reading] = []
    said: tuple[str, ...] = ()
    pile = _Pile()
    for part in parts:
        said = said if readings else notes(part)
        lines = split(part)
        readings.append(part_of(name, lines, tabulate(lines, grammar)))
        if len(readings) == 2:
            readings[0] = pile.add(readings[0])
        if len(readings) > 1:
            readings[-1] = pile.add(readings[-1])
    whole = readings[0] if len(readings) == 1 else _joined(readings, pile)
    return dated(path, replace(whole, notes=said), TimeBase.GUESS)


class _Pile:
    """The columns of all parts one after another, in arrays that have room for more.

    Pages of an array that nobody wrote to take no memory; so room is taken at once, and parts are soon let go.
    """

    def __init__(self) -> None:
        self.fields: dict[str, NDArray[Any]] = {}
        self.channels: dict[str, int] = {}
        self.rows = 0
        self.lines = 0

    def add(self, reading: Reading) -> Reading:
        """Put the columns of the next part on the pile; the reading without them."""
        part = reading.columns
        numbers = [self.channels.setdefault(name, len(self.channels)) for name in reading.channels]
        buses = np.array(numbers, np.uint16)[part.channels] if numbers else part.channels
        part = replace(part, channels=buses, places=part.places + self.lines)
        end = self.rows + len(part.times_ns)
        for name in _FIELDS:
            block = getattr(part, name)
            if not self.fields.get(name, block).shape[1:] >= block.shape[1:] or name not in self.fields:
                self._make_room(name, block, end)
            elif len(self.fields[name]) < end:
                self._make_room(name, self.fields[name], end)
            here = self.fields[name][self.rows : end]
            if block.ndim == 2:
                here[:, block.shape[1] :] = 0
                here = here[:, : block.shape[1]]
            here[:] = block
        self.rows, self.lines = end, self.lines + reading.ledger.lines_or_objects
        return replace(reading, columns=slim(reading.columns))

    def _make_room(self, name: str, like: NDArray[Any], rows: int) -> None:
        """An array as wide as another one, for these rows and more; what is there already is taken over."""
        there = self.fields.get(name)
        room = np.empty((_ROOM * rows if self.rows else rows, *like.shape[1:]), like.dtype)
        if there is not None and there.ndim == 2:
            room[: self.rows] = 0
            room[: self.rows, : there.shape[1]] = there[: self.rows]
        elif there is not None:
            room[: self.rows] = there[: self.rows]
        self.fields[name] = room

    def columns(self) -> Columns:
        """All of it as one."""
        joined = {name: array[: self.rows] for name, array in self.fields.items()}
        return Columns(**joined, absolute=False, place_is="line")


def _joined(readings: list[Reading], pile: _Pile) -> Reading:
    """The parts one after another."""
    frames = [0, *accumulate(one.ledger.frames for one in readings)]
    lines = [0, *accumulate(one.ledger.lines_or_objects for one in readings)]
    rejected = grouped(
        _moved(piece, row, line)
        for one, row, line in zip(readings, frames, lines, strict=False)
        for piece in one.rejected
    )
    ledgers = [one.ledger for one in readings]
    return replace(
        readings[0],
        ledger=Ledger(
            lines[-1],
            frames[-1],
            sum(one.non_frames for one in ledgers),
            sum(one.rejected for one in ledgers),
        ),
        rejected=rejected,
        oddities=_oddities(readings, frames, lines),
        channels=tuple(pile.channels),
        resolution_ns=min(one.resolution_ns for one in readings),
        columns=pile.columns(),
    )


def _moved(piece: Rejected, row: int, line: int) -> Rejected:
    return replace(
        piece,
        place=piece.place + line,
        last=piece.last + line,
        row=piece.row + row,
        last_row=piece.last_row + row,
    )


def _oddities(readings: list[Reading], frames: list[int], lines: list[int]) -> tuple[Oddity, ...]:
    found: dict[str, Oddity] = {}
    for one, row, line in zip(readings, frames, lines, strict=False):
        for odd in one.oddities:
            first = found.get(odd.what)
            if first is None:
                found[odd.what] = replace(
                    odd, place=odd.place + line, first_row=odd.first_row + row, last_row=odd.last_row + row
                )
            else:
                found[odd.what] = replace(first, count=first.count + odd.count, last_row=odd.last_row + row)
    return tuple(found[what] for what in sorted(found))
