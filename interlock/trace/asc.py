"""ASC text logs: header with date, number base and kind of stamps; trigger blocks; frames and events."""

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.asc_lines import BASE, BEGIN, DATE, END, date_ns, grammar, looks_like, short_fraction
from interlock.trace.bulk import tabulate
from interlock.trace.lines import LONGEST, Lines, Table, split
from interlock.trace.model import QualityKind
from interlock.trace.reading import Reading, Rejected
from interlock.trace.shape import Kind
from interlock.trace.text import TimeBase, reading_of

__all__ = ["looks_like", "read"]

LONGEST_NS: Final = 10**18
"""Thirty years: no measurement lasts longer, and a date can still be added."""

Kinds = NDArray[np.uint8]  # of each line

_STAMPED: Final = np.isin(np.arange(len(Kind)), (Kind.FRAME, Kind.REMOTE, Kind.ERROR, Kind.EVENT))
_ZONE: Final = "the date of the log carries no time zone: read as UTC"
_FILE: Final = "no trigger block with a date of its own: the date of the file's header is taken for the start"
_FRACTION: Final = (
    "the date of the log has a fraction of a second of fewer than three digits: read as milliseconds"
)


@dataclass(slots=True)
class _Header:
    """What the lines that are not stamped say."""

    base: bytes | None = None
    stamps: bytes | None = None  # absolute or relative
    date: bytes = b""
    begins: tuple[tuple[int, bytes], ...] = ()  # row of each trigger block and its date
    closed: bool = False  # the last trigger block has its end


def read(path: Path, text: bytes) -> Reading:
    """Reads every line; a frame's time is the date of its trigger block (else of the header) and its stamp."""
    lines = split(text)
    header = _header(path, lines)
    if header.base is None:
        raise LogError(
            f"{path}: an ASC log without a readable line 'base hex|dec timestamps absolute|relative': identifiers "
            "cannot be told from each other; add the line as the logger was set"
        )
    table = tabulate(lines, grammar(header.base))
    table.reject(np.flatnonzero(table.times_ns > LONGEST_NS), "time stamp beyond thirty years")
    kinds = table.kinds()
    doubts = [*_relative(path, table, kinds, header), *_blocks(kinds, header), *_end(kinds, header)]
    dated, notes = _add_dates(table, kinds, header)
    base = TimeBase.SINCE_1970 if dated else TimeBase.SINCE_START
    return reading_of("asc", path, lines, table, base, doubts=tuple(doubts), notes=notes)


def _header(path: Path, lines: Lines) -> _Header:
    header = _Header()
    begins: list[tuple[int, bytes]] = []
    first = lines.first_bytes() | 32
    for row in np.flatnonzero((first >= ord("a")) & (first <= ord("z"))):
        line = lines.line(int(row))[:LONGEST].rstrip()
        if match := BASE.fullmatch(line):
            said = (match[1].lower(), match[2].lower() if match[2] else None)
            if header.base is not None and said != (header.base, header.stamps):
                raise LogError(f"{path}:{row + 1}: a second, different 'base' line; split the log there")
            header.base, header.stamps = said
        elif (match := DATE.fullmatch(line)) and not header.date:
            header.date = match[1]
        elif match := BEGIN.fullmatch(line):
            begins.append((int(row), match[1] or b""))
            header.closed = False
        elif END.fullmatch(line):
            header.closed = True
    header.begins = tuple(begins)
    return header


def _rows_before(kinds: Kinds, row: int) -> int:
    return int((kinds[:row] == Kind.FRAME).sum())


def _relative(path: Path, table: Table, kinds: Kinds, header: _Header) -> list[Rejected]:
    """Turn distances into times, block by block; the doubts that this leaves."""
    if header.stamps is None:
        why = "the header does not say whether the stamps are absolute or relative"
        return [Rejected(1, 1, 0, 0, 0, why, QualityKind.TIME_RELATIVE, until_end=True, from_start=True)]
    if header.stamps == b"absolute":
        return []
    stamped = _STAMPED[kinds]
    if float(table.times_ns[stamped].sum(dtype=np.float64)) > LONGEST_NS:
        raise LogError(f"{path}: the relative stamps add up to more than thirty years")
    edges = [0, *(row for row, _ in header.begins), len(kinds)]
    for start, stop in pairwise(edges):
        rows = start + np.flatnonzero(stamped[start:stop])
        table.times_ns[rows] = np.cumsum(table.times_ns[rows])
    bad = np.flatnonzero(table.reason_of)
    if not len(bad):
        return []
    line, why = int(bad[0]) + 1, "a distance in this line is lost: each later relative stamp is too early"
    row = _rows_before(kinds, int(bad[0]))
    return [Rejected(line, line, 0, row, row, why, QualityKind.TIME_RELATIVE, until_end=True)]


def _blocks(kinds: Kinds, header: _Header) -> list[Rejected]:
    """From one trigger block to the next the distance in time is not certain."""
    why = "a new trigger block: how its stamps continue the former ones is not certain"
    return [
        Rejected(line + 1, line + 1, 0, row, row, why, QualityKind.TIME_RELATIVE)
        for line, row in ((line, _rows_before(kinds, line)) for line, _ in header.begins[1:])
    ]


def _end(kinds: Kinds, header: _Header) -> list[Rejected]:
    if header.closed or not header.begins:
        return []
    last = len(kinds)
    frames = _rows_before(kinds, last)
    why = "the log ends without 'End TriggerBlock'"
    return [Rejected(last, last, 0, frames, frames, why, QualityKind.TRUNCATED, until_end=True)]


def _add_dates(table: Table, kinds: Kinds, header: _Header) -> tuple[bool, tuple[str, ...]]:
    """Add the date of its block to each stamp, if every block has one; what had to be assumed."""
    starts = list(header.begins) or [(0, header.date)]
    if _rows_before(kinds, starts[0][0]):
        starts.insert(0, (0, header.date))
    borrowed = len(starts) > len(header.begins) or not all(text for _, text in starts)
    texts = [text or header.date for _, text in starts]
    dates = [date_ns(text) for text in texts]
    edges = [0, *(row for row, _ in starts[1:]), len(kinds)]
    if None in dates:
        return False, ("no readable date for each part of the log: the time of day is not known",)
    for date, (start, stop) in zip(dates, pairwise(edges), strict=True):
        table.times_ns[start:stop] += date or 0
    notes = ((_ZONE, True), (_FRACTION, any(map(short_fraction, texts))), (_FILE, borrowed))
    return True, tuple(note for note, holds in notes if holds)
