"""ASC text logs: header with date, number base and kind of stamps; trigger blocks; frames and events."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace import asc_fd_lane, asc_lane
from interlock.trace.asc_lines import (
    BASE,
    BEGIN,
    DATE,
    END,
    STAMPS,
    date_ns,
    grammar,
    looks_like,
    short_fraction,
    stripped,
)
from interlock.trace.bulk import tabulate
from interlock.trace.forms import COMMENT, ERROR, EVENT, FRAME, REMOTE, are
from interlock.trace.lane import Kernel, Lanes
from interlock.trace.lines import LONGEST, Lines, Table
from interlock.trace.local_time import local_notes
from interlock.trace.model import QualityKind
from interlock.trace.parts import in_parts
from interlock.trace.reading import Reading, Rejected
from interlock.trace.text import TimeBase, dated

__all__ = ["looks_like", "read", "read_long"]

LONGEST_NS: Final = 10**18
"""Thirty years: no measurement lasts longer, and a date can still be added."""

_STAMPED: Final = (FRAME, REMOTE, ERROR, EVENT)
_HEAD: Final = 100  # lines of a file among which its header is looked for
KERNEL: Final = Kernel("asc_kernel", "asc", lambda written: written.lstrip(b"0") or b"0")
LANES: Final = Lanes((asc_lane.lane, asc_fd_lane.lane), KERNEL)
_FRACTIONS: Final = re.compile(rb":\d\d\.(\d{1,9})(?!\d)")
_FILE: Final = "no trigger block with a date of its own: the date of the file's header is taken for the start"
_FRACTION: Final = (
    "the date of the log has a fraction of a second of fewer than three digits: read as milliseconds"
)


@dataclass(frozen=True, slots=True)
class _Begin:
    """A line that begins a trigger block."""

    line: int  # 0-based
    frames: int  # before it
    date: bytes


@dataclass(slots=True)
class _Log:
    """What the lines that are not stamped say, and where among all lines the reading is."""

    path: Path
    base: bytes | None = None
    stamps: bytes | None = None  # absolute or relative
    date: bytes = b""
    begins: list[_Begin] = field(default_factory=list)
    closed: bool = False  # the last trigger block has its end
    lines: int = 0  # read so far
    frames: int = 0
    passed_ns: int = 0  # of relative stamps: up to the last one of the block
    added_ns: float = 0.0  # of relative stamps: all of them
    first_lost: tuple[int, int] | None = None  # 0-based line that was not read, and frames before it


def read(path: Path, text: bytes) -> Reading:
    """Reads every line; a frame's time is the date of its trigger block (else of the header) and its stamp."""
    return read_long(path, (text,))


def read_long(path: Path, parts: Iterable[bytes]) -> Reading:
    """The same of a file in parts that end with a line."""
    log = _Log(path)
    whole = in_parts("asc", parts, lambda lines: _table(log, lines))
    doubts = (*_relative(log), *_blocks(log), *_end(log))
    is_dated, notes = _add_dates(log, whole.columns.times_ns)
    base = TimeBase.SINCE_1970 if is_dated else TimeBase.SINCE_START
    reading = dated(path, replace(whole, notes=notes), base, doubts)
    return replace(reading, date_width_ns=_date_width_ns(log)) if is_dated else reading


def _date_width_ns(log: _Log) -> int:
    """How coarse the dates are to which the stamps are added."""
    fractions = [_FRACTIONS.search(text) for text in (log.date, *(one.date for one in log.begins)) if text]
    return max(int(10 ** (9 - (len(one[1]) if one else 0))) for one in fractions)


def _table(log: _Log, lines: Lines) -> Table:
    """The table of a part of the log; relative stamps become times since the beginning of their block."""
    begins = _listen(log, lines, _header_rows(log, lines))
    if log.base is None:
        raise LogError(
            f"{log.path}: an ASC log without a readable line 'base hex|dec timestamps absolute|relative': identifiers "
            "cannot be told from each other; add the line as the logger was set"
        )
    table = tabulate(lines, grammar(log.base), LANES if log.base == b"hex" else None)
    table.reject(np.flatnonzero(table.times_ns > LONGEST_NS), "time stamp beyond thirty years")
    begins = sorted([*begins, *_listen(log, lines, _indented(log, lines, table))])
    if log.stamps == b"relative":
        _add_up(log, table, [row for row, _ in begins])
    for row, date in begins:
        log.begins.append(_Begin(log.lines + row, log.frames + _frames_in(table, row), date))
    log.lines += len(lines)
    log.frames += _frames_in(table)
    return table


def _header_rows(log: _Log, lines: Lines) -> NDArray[np.int64]:
    """The lines that begin with a letter; at the beginning of the file all, however they begin."""
    first = lines.first_bytes() | 32
    wanted = (first >= ord("a")) & (first <= ord("z"))
    if not log.lines:
        wanted[:_HEAD] = True
    return np.flatnonzero(wanted)


def _indented(log: _Log, lines: Lines, table: Table) -> NDArray[np.int64]:
    """Lines without a stamp that begin with a blank, and were not looked at yet."""
    rows: NDArray[np.int64] = np.flatnonzero(are(table.codes, COMMENT))
    if not log.lines:
        rows = rows[rows >= _HEAD]
    first = lines.first_bytes(rows)
    indented: NDArray[np.int64] = rows[(first == ord(" ")) | (first == ord("\t"))]
    return indented


def _listen(log: _Log, lines: Lines, rows: NDArray[np.int64]) -> list[tuple[int, bytes]]:
    """Take in what lines without a stamp say; rows and dates of the trigger blocks that begin in these rows."""
    begins: list[tuple[int, bytes]] = []
    for row in rows.tolist():
        line = stripped(lines.line(row)[:LONGEST])
        if match := BASE.fullmatch(line):
            said = (match[1].lower(), match[2].lower() if match[2] else None)
            if log.base is not None and said != (log.base, log.stamps):
                raise LogError(
                    f"{log.path}:{log.lines + row + 1}: a second, different 'base' line; split the log there"
                )
            log.base, log.stamps = said
        elif (match := STAMPS.fullmatch(line)) and log.stamps is None:
            log.stamps = match[1].lower()
        elif (match := DATE.fullmatch(line)) and not log.date:
            log.date = match[1]
        elif match := BEGIN.fullmatch(line):
            begins.append((row, match[1] or b""))
            log.closed = False
        elif END.fullmatch(line):
            log.closed = True
    return begins


def _frames_in(table: Table, rows: int | None = None) -> int:
    """Frames in the first rows; None: in all."""
    return int(np.count_nonzero(are(table.codes[:rows], FRAME)))


def _add_up(log: _Log, table: Table, begins: list[int]) -> None:
    """Turn distances into times, block by block."""
    stamped = np.zeros(len(table.codes), np.bool_)
    for kind in _STAMPED:
        stamped |= are(table.codes, kind)
    log.added_ns += float(table.times_ns[stamped].sum(dtype=np.float64))
    if log.added_ns > LONGEST_NS:
        raise LogError(f"{log.path}: the relative stamps add up to more than thirty years")
    for number, (start, stop) in enumerate(pairwise([0, *begins, len(stamped)])):
        rows = start + np.flatnonzero(stamped[start:stop])
        since = log.passed_ns if number == 0 else 0
        table.times_ns[rows] = since + np.cumsum(table.times_ns[rows])
        log.passed_ns = int(table.times_ns[rows[-1]]) if len(rows) else since
    bad = table.bad()
    if len(bad) and log.first_lost is None:
        log.first_lost = (log.lines + int(bad[0]), log.frames + _frames_in(table, int(bad[0])))


def _relative(log: _Log) -> list[Rejected]:
    """The doubts that relative stamps leave."""
    if log.stamps is None:
        why = "the header does not say whether the stamps are absolute or relative"
        return [Rejected(1, 1, 0, 0, 0, why, QualityKind.TIME_RELATIVE, until_end=True, from_start=True)]
    if log.first_lost is None:
        return []
    line, row = log.first_lost[0] + 1, log.first_lost[1]
    why = "a distance in this line is lost: each later relative stamp is too early"
    return [Rejected(line, line, 0, row, row, why, QualityKind.TIME_RELATIVE, until_end=True)]


def _blocks(log: _Log) -> list[Rejected]:
    """From one trigger block to the next the distance in time is not certain."""
    why = "a new trigger block: how its stamps continue the former ones is not certain"
    return [
        Rejected(
            begin.line + 1, begin.line + 1, 0, begin.frames, begin.frames, why, QualityKind.TIME_RELATIVE
        )
        for begin in log.begins[1:]
    ]


def _end(log: _Log) -> list[Rejected]:
    if log.closed or not log.begins:
        return []
    why = "the log ends without 'End TriggerBlock'"
    return [
        Rejected(log.lines, log.lines, 0, log.frames, log.frames, why, QualityKind.TRUNCATED, until_end=True)
    ]


def _add_dates(log: _Log, times_ns: NDArray[np.int64]) -> tuple[bool, tuple[str, ...]]:
    """Add the date of its block to each frame's stamp, if every block has one; what had to be assumed."""
    starts = list(log.begins) or [_Begin(0, 0, log.date)]
    if starts[0].frames:
        starts.insert(0, _Begin(0, 0, log.date))
    borrowed = len(starts) > len(log.begins) or not all(one.date for one in starts)
    texts = [one.date or log.date for one in starts]
    dates = [date_ns(text) for text in texts]
    edges = [0, *(one.frames for one in starts[1:]), len(times_ns)]
    if None in dates:
        return False, ("no readable date for each part of the log: the time of day is not known",)
    for date, (start, stop) in zip(dates, pairwise(edges), strict=True):
        times_ns[start:stop] += date or 0
    zone = local_notes("the date of the log", [date for date in dates if date is not None])
    notes = ((_FRACTION, any(map(short_fraction, texts))), (_FILE, borrowed))
    return True, (*zone, *(note for note, holds in notes if holds))
