"""A text file cut into lines, and the table that they become: one row a line."""

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.forms import FRAME, REJECTED, code_of
from interlock.trace.shape import Kind, Shape

__all__ = ["LONGEST", "MOST_BUSES", "Lines", "Table", "TooManyBusesError", "split"]

LONGEST: Final = 2000
"""Bytes; no line of these formats is longer."""

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]

MOST_BUSES: Final = 65535


class TooManyBusesError(Exception):
    """A log of more buses than can be numbered."""


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """A text file cut at its line feeds; a carriage return before one belongs to the line end."""

    text: bytes
    starts: Ints
    stops: Ints
    complete: bool  # the last line has its line end

    def __len__(self) -> int:
        return len(self.starts)

    def line(self, row: int) -> bytes:
        """One line without its line end."""
        return self.text[self.starts[row] : self.stops[row]]

    def first_bytes(self, rows: "Ints | slice" = slice(None)) -> Bytes:
        """The first byte of each line, or of some; of an empty one its line end."""
        buffer = np.frombuffer(self.text, np.uint8)
        return buffer[np.minimum(self.starts[rows], max(len(buffer) - 1, 0))]


def split(text: bytes) -> Lines:
    """All lines of a file; nothing after the last line feed makes no line."""
    buffer = np.frombuffer(text, np.uint8)
    ends = np.flatnonzero(buffer == 10)
    complete = text.endswith(b"\n") or not text
    if not complete:
        ends = np.append(ends, len(buffer))
    starts = np.zeros_like(ends)
    starts[1:] = ends[:-1] + 1
    if b"\r" in text:
        ends = ends - ((ends > starts) & (buffer[ends - 1] == 13))
    return Lines(text, starts, ends, complete)


@dataclass(slots=True, eq=False)
class Table:
    """One row a line. Payloads over eight bytes lie in `wide`, as pairs of rows and blocks."""

    codes: NDArray[np.int32]  # see `interlock.trace.forms`
    reason_of: NDArray[np.int32]  # index into `reasons`; 0 is a line that is not rejected
    times_ns: Ints
    idents: NDArray[np.uint32]
    data: NDArray[np.uint64]  # first eight bytes of the payload, the first one lowest
    digits: int = 0  # most digits after the point in any stamp
    wide: list[tuple[Ints, Bytes]] = field(default_factory=list)
    buses: dict[bytes, int] = field(default_factory=dict)  # numbers by name
    reasons: dict[str, int] = field(default_factory=lambda: {"": 0})

    @classmethod
    def empty(cls, rows: int) -> "Table":
        """A table of unread rows."""
        return cls(
            codes=np.zeros(rows, np.int32),
            reason_of=np.zeros(rows, np.int32),
            times_ns=np.zeros(rows, np.int64),
            idents=np.zeros(rows, np.uint32),
            data=np.zeros(rows, np.uint64),
        )

    def reject(self, rows: "Ints | int", why: str) -> None:
        """Mark rows as no line of the format, whatever they were before."""
        if isinstance(rows, int) or len(rows):
            self.reason_of[rows] = self.reasons.setdefault(why, len(self.reasons))
            self.codes[rows] = code_of(0, REJECTED, 0)

    def note(self, rows: "Ints | int", shape: Shape, ends: Bytes | None = None) -> None:
        """Write down what all rows of one shape have in common; `ends`: the last characters of their channels."""
        if shape.seconds != shape.fraction:  # stamped
            self.stamped(shape.fraction[1] - shape.fraction[0], shape.decimals)
        if shape.kind is not Kind.FRAME:
            self.codes[rows] = code_of(0, 2 * shape.kind, 0)
            return
        bus: Any
        if ends is None:
            bus = self.bus(shape.channel)
        else:
            numbers = np.zeros(256, np.int32)
            for end in np.flatnonzero(np.bincount(ends)).tolist():
                numbers[end] = self.bus(shape.channel_with(end))
            bus = numbers[ends]
        self.codes[rows] = code_of(bus, FRAME + shape.extended, shape.length)

    def stamped(self, digits: int, decimals: int) -> None:
        """There are stamps with so many digits behind the point; `decimals` as in `Shape`."""
        self.digits = max(self.digits, digits + 9 - decimals)

    def bus(self, name: bytes) -> int:
        """The number of a bus."""
        number = self.buses.setdefault(name, len(self.buses))
        if number >= MOST_BUSES:
            raise TooManyBusesError
        return number

    def bad(self) -> Ints:
        """The rejected rows."""
        found: Ints = np.flatnonzero(self.reason_of) if len(self.reasons) > 1 else np.zeros(0, np.int64)
        return found
