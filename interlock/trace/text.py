"""From a table of text lines to a reading: ledger, rejected lines, and what the stamps are worth."""

from dataclasses import replace
from enum import Enum
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.bulk import TORN
from interlock.trace.lines import Lines, Table
from interlock.trace.model import Columns, Ledger, QualityKind
from interlock.trace.reading import Oddity, Reading, Rejected, grouped
from interlock.trace.shape import Kind

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
    kinds = table.kinds()
    frames = np.flatnonzero(kinds == Kind.FRAME)
    rejected = _rejected(table, frames)
    channels = _channels(table, frames)
    count = sum(piece.count for piece in rejected)
    return Reading(
        format=name,
        columns=_columns(table, frames, channels),
        ledger=Ledger(len(lines), len(frames), len(lines) - len(frames) - count, count),
        rejected=rejected,
        oddities=_oddities(kinds, frames),
        channels=tuple(channel.decode("ascii", "replace") for channel in channels),
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
    bad = np.flatnonzero(table.reason_of)
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


def _channels(table: Table, frames: NDArray[np.int64]) -> list[bytes]:
    """The different buses that data frames came over, in the order in which they appear."""
    found = list(dict.fromkeys(channel for kind, _, _, channel in table.forms if kind is Kind.FRAME))
    if len(found) < 2:
        return found
    bus_of = np.array([found.index(form[3]) if form[3] in found else 0 for form in table.forms], np.uint16)
    buses = bus_of[table.form_of[frames]]
    return sorted(found, key=lambda name: _first(buses == found.index(name)))


def _first(holds: NDArray[np.bool_]) -> int:
    """Where it holds first; behind the end if nowhere."""
    return int(np.argmax(holds)) if holds.any() else len(holds)


def _columns(table: Table, frames: NDArray[np.int64], channels: list[bytes]) -> Columns:
    rows = _together(frames)
    forms = table.form_of[rows]
    number = {channel: index for index, channel in enumerate(channels)}
    words = table.data[rows]
    data = words.astype("<u8", copy=False).view(np.uint8).reshape(-1, 8)
    return Columns(
        times_ns=table.times_ns[rows],
        idents=table.idents[rows],
        extended=np.array([form[1] for form in table.forms], np.bool_)[forms],
        lengths=np.array([form[2] for form in table.forms], np.uint8)[forms],
        data=_widened(table, frames, data) if table.wide else data,
        places=frames + 1,
        channels=np.array([number.get(form[3], 0) for form in table.forms], np.uint16)[forms],
        absolute=False,
        place_is="line",
    )


def _together(frames: NDArray[np.int64]) -> "slice | NDArray[np.int64]":
    """The rows of all frames; as a slice, whose columns are not copied, if no other line stands among them."""
    if not len(frames) or int(frames[-1]) - int(frames[0]) + 1 != len(frames):
        return frames
    return slice(int(frames[0]), int(frames[-1]) + 1)


def _widened(table: Table, frames: NDArray[np.int64], data: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The payloads with those over eight bytes put in."""
    wide = np.zeros((len(frames), 64), np.uint8)
    wide.view(np.uint64)[:, 0] = data.view(np.uint64)[:, 0]
    for rows, block in table.wide if len(frames) else ():
        here = np.minimum(np.searchsorted(frames, rows), len(frames) - 1)
        kept = frames[here] == rows  # a row may have been rejected later
        wide[here[kept], : block.shape[1]] = block[kept]
    return wide


def _oddities(kinds: NDArray[np.uint8], frames: NDArray[np.int64]) -> tuple[Oddity, ...]:
    found = []
    for kind, what in ((Kind.ERROR, "error frames"), (Kind.REMOTE, "remote frames")):
        lines = np.flatnonzero(kinds == kind)
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
