"""From a table of text lines to a reading: ledger, rejected lines, and what the stamps are worth."""

from dataclasses import replace
from enum import Enum
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.bulk import TORN
from interlock.trace.forms import ERROR, FRAME, REMOTE, are, bus_of, length_of, wide_of
from interlock.trace.lines import Lines, Table
from interlock.trace.model import Columns, Ledger, QualityKind
from interlock.trace.reading import Oddity, Reading, Rejected, grouped

__all__ = ["TimeBase", "dated", "part_of"]

EARLIEST_EPOCH_NS: Final = 10**17
"""March 1973: a log stamped earlier was not stamped with the time since 1970."""


class TimeBase(Enum):
    """What the stamps of a file count."""

    GUESS = "nothing says so: since 1970 if large enough, else since the start if they only ever grow"
    SINCE_1970 = "nanoseconds since 1970"
    SINCE_START = "nanoseconds since the file's own start"


def part_of(name: str, lines: Lines, table: Table) -> Reading:
    """The reading of a part of a text file, which may hold no frame; what its stamps count is not asked."""
    frames = np.flatnonzero(are(table.codes, FRAME))
    rejected = _rejected(table, frames)
    columns, buses = _columns(table, frames)
    count = sum(piece.count for piece in rejected)
    return Reading(
        format=name,
        columns=columns,
        ledger=Ledger(len(lines), len(frames), len(lines) - len(frames) - count, count),
        rejected=rejected,
        oddities=_oddities(table, frames),
        channels=tuple(channel.decode("ascii", "replace") for channel in buses),
        notes=(),
        resolution_ns=10 ** (9 - table.digits),
    )


def dated(path: Path, whole: Reading, base: TimeBase, doubts: tuple[Rejected, ...] = ()) -> Reading:
    """The reading of a whole file with what its stamps count; LogError if it holds no frame."""
    if not whole.ledger.frames:
        raise LogError(_nothing_in(whole.format, path, whole.rejected))
    doubt, absolute, note = _time_base(base, whole.columns.times_ns)
    return replace(
        whole,
        columns=replace(whole.columns, absolute=absolute),
        rejected=(*whole.rejected, *doubts, *doubt),
        notes=(*whole.notes, *note),
    )


def _rejected(table: Table, frames: NDArray[np.int64]) -> tuple[Rejected, ...]:
    bad = table.bad()
    before = np.searchsorted(frames, bad)
    reasons = list(table.reasons)
    pieces = (
        _piece(int(line) + 1, int(row), reasons[reason])
        for line, row, reason in zip(bad, before, table.reason_of[bad], strict=True)
    )
    return grouped(pieces)


def _piece(line: int, row: int, why: str) -> Rejected:
    torn = why == TORN
    kind = QualityKind.TRUNCATED if torn else QualityKind.UNREADABLE
    return Rejected(line, line, 1, row, row, why, kind, until_end=torn)


def _nothing_in(name: str, path: Path, rejected: tuple[Rejected, ...]) -> str:
    if not rejected:
        return f"{path}: read as {name}, but it holds no data frame; give a log with frames in it"
    first = rejected[0]
    return (
        f"{path}:{first.place}: read as {name}, but no line of it holds a data frame; "
        f"this line: {first.why}; export the log again"
    )


def _buses(codes: NDArray[np.int32], names: list[bytes]) -> tuple[list[bytes], NDArray[np.uint16]]:
    """The different buses that data frames came over, in the order in which they appear, and that of each frame."""
    numbers = bus_of(codes)
    there = np.flatnonzero(np.bincount(numbers, minlength=1)).tolist() if len(numbers) else []
    order = sorted(there, key=lambda number: int(np.argmax(numbers == number)))
    found = [names[number] for number in order]
    if order != list(range(len(order))):
        moved = np.zeros(len(names), np.uint16)
        moved[order] = np.arange(len(order))
        numbers = moved[numbers]
    return found, numbers


def _columns(table: Table, frames: NDArray[np.int64]) -> tuple[Columns, list[bytes]]:
    """The columns of all frames, and the buses by the number that they have there."""
    rows = _together(frames)
    codes, words = table.codes[rows], table.data[rows]
    buses, channels = _buses(codes, list(table.buses))
    data = words.astype("<u8", copy=False).view(np.uint8).reshape(-1, 8)
    columns = Columns(
        times_ns=table.times_ns[rows],
        idents=table.idents[rows],
        extended=wide_of(codes),
        lengths=length_of(codes),
        data=data,
        wide=_wide(table, frames) if table.wide else (),
        places=frames + 1,
        channels=channels,
        absolute=False,
        place_is="line",
    )
    return columns, buses


def _together(frames: NDArray[np.int64]) -> "slice | NDArray[np.int64]":
    """The rows of all frames; as a slice, whose columns are not copied, if no other line stands among them."""
    if not len(frames) or int(frames[-1]) - int(frames[0]) + 1 != len(frames):
        return frames
    return slice(int(frames[0]), int(frames[-1]) + 1)


def _wide(table: Table, frames: NDArray[np.int64]) -> tuple[tuple[NDArray[np.int64], NDArray[np.uint8]], ...]:
    """The payloads over eight bytes by the rows of the frames."""
    kept = [
        (are(table.codes[rows], FRAME), rows, block) for rows, block in table.wide
    ]  # a row may be rejected later
    return tuple((np.searchsorted(frames, rows[good]), block[good]) for good, rows, block in kept)


def _oddities(table: Table, frames: NDArray[np.int64]) -> tuple[Oddity, ...]:
    found = []
    if len(frames) == len(table.codes):
        return ()
    for kind, what in ((ERROR, "error frames"), (REMOTE, "remote frames")):
        lines = np.flatnonzero(are(table.codes, kind))
        if len(lines):
            ends = np.searchsorted(frames, lines[[0, -1]])
            first = int(lines[0]) + 1
            found.append(Oddity(QualityKind.ERROR_FRAME, what, len(lines), first, int(ends[0]), int(ends[1])))
    return tuple(found)


def _time_base(
    base: TimeBase, times: NDArray[np.int64]
) -> tuple[tuple[Rejected, ...], bool, tuple[str, ...]]:
    """Doubts about the time base, whether the stamps count since 1970, and what was assumed."""
    if base is not TimeBase.GUESS:
        return (), base is TimeBase.SINCE_1970, ()
    if int(np.median(times)) >= EARLIEST_EPOCH_NS:
        return (), True, ()
    steps = np.diff(times)
    if (steps >= 0).all() and 2 * int((steps > 0).sum()) >= len(steps):
        return (
            (),
            False,
            ("the stamps only ever grow from near zero: read as time since the start of the log",),
        )
    why = "the stamps count neither from 1970 nor steadily from the start: perhaps they are distances"
    doubt = Rejected(1, 1, 0, 0, 0, why, QualityKind.TIME_RELATIVE, until_end=True, from_start=True)
    return (doubt,), False, ()
