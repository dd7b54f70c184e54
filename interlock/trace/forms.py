"""Forms of lines as numbers, so that the lanes can tell of each of many lines which form it has."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.lines import Table
from interlock.trace.shape import Kind, Shape

__all__ = [
    "COMMENT",
    "ERROR",
    "ERROR_WIDE",
    "EVENT",
    "FRAME",
    "KINDS",
    "LENGTHS",
    "REMOTE",
    "Forms",
    "code_of",
]

FRAME, REMOTE, ERROR, ERROR_WIDE, EVENT, COMMENT = 0, 2, 4, 5, 6, 7
"""Kinds of lines as forms number them; one more is a frame or remote frame with an extended identifier.

The kinds ERROR, EVENT and COMMENT tell no channel and no extended identifier.
"""
KINDS: Final = 8
LENGTHS: Final = 65
_KINDS: Final = (Kind.FRAME, Kind.FRAME, Kind.REMOTE, Kind.REMOTE, Kind.ERROR, Kind.ERROR, Kind.EVENT)

Ints = NDArray[np.int64]


def code_of(channel: Ints, kind: Ints, length: Ints) -> Ints:
    """The numbers of the forms of lines; none is 0."""
    return 1 + (channel * KINDS + kind) * LENGTHS + length


@dataclass(frozen=True, slots=True)
class Forms:
    """What the numbers mean."""

    channels: list[bytes]  # by their number
    digits: int  # behind the points of all stamps, at most
    decimals: int = 9  # of the stamps, see `Shape`

    def note(self, table: Table, rows: Ints, which: NDArray[np.integer]) -> tuple[Ints, NDArray[np.uint8]]:
        """Write down the form of each row (0: none); which rows have payloads over eight bytes, and of what length."""
        counts = np.bincount(which, minlength=1)
        numbers, lengths = np.zeros(len(counts), np.int32), np.zeros(len(counts), np.uint8)
        for code in np.flatnonzero(counts[1:]) + 1:
            shape = self.shape(int(code))
            numbers[code], lengths[code] = table.number_of(shape), shape.length
        table.form_of[rows] = numbers[which]
        wide = lengths > 8
        long = np.flatnonzero(wide[which] if wide.any() else ())
        return long, lengths[which[long]]

    def shape(self, code: int) -> Shape:
        """The shape of a form, as far as a table asks for it."""
        code, length = divmod(code - 1, LENGTHS)
        channel, kind = divmod(code, KINDS)
        if kind == COMMENT:
            return Shape(Kind.COMMENT)
        nameless = kind in (ERROR, EVENT)
        return Shape(
            _KINDS[kind],
            (0, 1),
            (1, 1 + self.digits),
            extended=not nameless and kind % 2 == 1,
            length=length,
            channel=b"" if nameless else self.channels[channel],
            decimals=self.decimals,
        )
