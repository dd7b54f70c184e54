"""What the fast lanes of the text formats share: which lines go through, and how they get into the table."""

import importlib
import importlib.util
import re
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.lines import Lines, Table
from interlock.trace.shape import Kind, Shape

__all__ = ["MARGIN", "Lane", "Rows", "by_kernel", "fastest", "model_of", "put"]

Rows = NDArray[np.int64]
Lane = Callable[[Lines, Table, Rows], NDArray[np.bool_]]
"""Puts those of some lines, in ascending order, into the table that it surely reads as the grammar does; which ones.

A lane may leave any line to the grammar, but never read one otherwise.
"""

MARGIN: Final = 1024
"""Bytes of the text before and behind a line that a lane may look at: more than a cursor goes, whatever it meets."""

MANY: Final = 50_000
"""Lines from which on it pays to load a compiler."""

_LOOKED_AT: Final = 50


def model_of(lines: Lines, rows: Rows, pattern: "re.Pattern[bytes]") -> "re.Match[bytes] | None":
    """How the pattern matches the beginning of the first of these lines that it matches, if it is soon."""
    for row in rows[:_LOOKED_AT].tolist():
        match = pattern.match(lines.line(row))
        if match is not None:
            return match
    return None


def put(
    table: Table,
    rows: Rows,
    ok: NDArray[np.bool_],
    forms: Sequence[Shape],
    which: NDArray[np.integer],
    times_ns: NDArray[np.int64],
    idents: NDArray[np.uint32] | NDArray[np.uint64],
    data: NDArray[np.uint64],
) -> None:
    """Write the rows that are ok; each has one of the forms."""
    if not ok.all():
        rows, which, times_ns, idents, data = rows[ok], which[ok], times_ns[ok], idents[ok], data[ok]
    if not len(rows):
        return
    numbers = np.zeros(len(forms), np.int32)
    for form in np.flatnonzero(np.bincount(which, minlength=len(forms))).tolist():
        numbers[form] = table.number_of(forms[form])
    table.form_of[rows] = numbers[which]
    table.times_ns[rows] = times_ns
    table.idents[rows] = idents
    table.data[rows] = data


def by_kernel(name: str, pattern: "re.Pattern[bytes]", *, wide_first: bool) -> Lane:
    """The lane that a compiled kernel makes; `pattern` finds the digits of a stamp in its first group.

    Of the two forms that the kernel numbers for each channel and length, the first one is the extended one or not.
    """

    def lane(lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
        model = model_of(lines, rows, pattern)
        if model is None:
            return np.zeros(len(rows), np.bool_)
        kernels = importlib.import_module("interlock.trace.kernels")
        text = lines.text if kernels.COMPILER is None else np.frombuffer(lines.text, np.uint8)
        which = np.empty(len(rows), np.int64)
        slots = np.zeros((kernels.MOST_CHANNELS, 2), np.int64)
        arrays = (table.times_ns, table.idents, table.data)
        getattr(kernels, name)(text, lines.starts, lines.stops, rows, *arrays, which, slots, len(model[1]))
        read = which >= 0
        forms = [
            Shape(
                Kind.FRAME,
                (0, 1),
                (1, 1 + len(model[1])),
                extended=wide,
                length=length,
                channel=_channel(name, lines.text[start : start + size]),
            )
            for start, size in slots.tolist()
            for wide in (wide_first, not wide_first)
            for length in range(9)
        ]
        numbers = np.zeros(len(forms), np.int32)
        for form in np.flatnonzero(np.bincount(which[read], minlength=len(forms))).tolist():
            numbers[form] = table.number_of(forms[form])
        table.form_of[rows[read]] = numbers[which[read]]
        return read

    return lane


def _channel(name: str, text: bytes) -> bytes:
    return text if name == "candump" else text.lstrip(b"0") or b"0"


def fastest(plain: Lane, kernel: Lane) -> Lane:
    """The kernel for many lines, if there is a compiler for it (the extra `fast`); else the plain lane."""

    def lane(lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
        chosen = kernel if len(lines) >= MANY and importlib.util.find_spec("numba") else plain
        return chosen(lines, table, rows)

    return lane
