"""A text file cut into lines, and the table that they become: one row a line."""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.shape import Kind, Shape

__all__ = ["LONGEST", "Lines", "Table", "split"]

LONGEST: Final = 2000
"""Bytes; no line of these formats is longer."""

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]
Form = tuple[Kind, bool, int, bytes]  # kind, extended identifier, length of the payload, channel


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

    form_of: NDArray[np.int32]  # index into `forms`; 0 is a line that nobody read yet
    reason_of: NDArray[np.int32]  # index into `reasons`; 0 is a line that is not rejected
    times_ns: Ints
    idents: NDArray[np.uint32]
    data: NDArray[np.uint64]  # first eight bytes of the payload, the first one lowest
    digits: int = 0  # most digits after the point in any stamp
    wide: list[tuple[Ints, Bytes]] = field(default_factory=list)
    forms: dict[Form, int] = field(default_factory=lambda: {(Kind.UNREAD, False, 0, b""): 0})
    reasons: dict[str, int] = field(default_factory=lambda: {"": 0})

    @classmethod
    def empty(cls, rows: int) -> "Table":
        """A table of unread rows."""
        return cls(
            form_of=np.zeros(rows, np.int32),
            reason_of=np.zeros(rows, np.int32),
            times_ns=np.zeros(rows, np.int64),
            idents=np.zeros(rows, np.uint32),
            data=np.zeros(rows, np.uint64),
        )

    def reject(self, rows: "Ints | int", why: str) -> None:
        """Mark rows as no line of the format."""
        if isinstance(rows, int) or len(rows):
            self.reason_of[rows] = self.reasons.setdefault(why, len(self.reasons))

    def note(self, rows: "Ints | int", shape: Shape) -> None:
        """Write down what all rows of one shape have in common."""
        self.form_of[rows] = self.number_of(shape)

    def number_of(self, shape: Shape) -> int:
        """The number of the form that rows of this shape have."""
        form = (shape.kind, shape.extended, shape.length, shape.channel)
        if shape.seconds != shape.fraction:  # stamped
            self.digits = max(self.digits, shape.fraction[1] - shape.fraction[0] + 9 - shape.decimals)
        return self.forms.setdefault(form, len(self.forms))

    def kinds(self) -> Bytes:
        """What each line is, as numbers of `Kind`."""
        kinds = np.array([form[0] for form in self.forms], np.uint8)[self.form_of]
        kinds[self.reason_of != 0] = Kind.REJECTED
        return kinds
