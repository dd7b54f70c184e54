"""TRC logs, format versions 1.0 to 2.1: what the header says of version, columns and start, then one frame a line."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Final

import numpy as np

from interlock.errors import LogError
from interlock.trace.bulk import tabulate
from interlock.trace.lane import Lanes
from interlock.trace.lines import LONGEST, Lines, Table
from interlock.trace.local_time import local_notes
from interlock.trace.parts import in_parts
from interlock.trace.reading import Reading
from interlock.trace.shape import Grammar
from interlock.trace.text import TimeBase, dated
from interlock.trace.trc_lines import COLUMNS, START, STARTED, VERSION, grammar, lanes, looks_like

__all__ = ["looks_like", "read", "read_long", "start_ns"]

LONGEST_NS: Final = 30 * 365 * 86400 * 10**9
"""Thirty years: no measurement lasts longer, and a date can still be added."""

_BY_VERSION: Final = {
    b"1.0": b"N,O,I,L,D",
    b"1.1": b"N,O,d,I,L,D",
    b"1.2": b"N,O,B,d,I,L,D",
    b"1.3": b"N,O,B,d,I,R,L,D",
}
_ZERO: Final = datetime(1899, 12, 30, tzinfo=UTC)
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_QUARTER_NS: Final = 15 * 60 * 10**9  # zones differ by whole quarters of an hour
_CONTRADICT: Final = "the header states two different start times: the time of day is not known"
_VERSIONS: Final = "{}: it names more than one format version; split the log there"
_UNDATED: Final = "no readable start time: the time of day is not known"


@dataclass(slots=True)
class _Header:
    """What the lines that begin with a semicolon say."""

    version: bytes = b"1.0"
    columns: bytes = b""
    start: bytes = b""  # days since 1899-12-30
    started: bytes = b""  # the same in words
    versions: set[bytes] = field(default_factory=set)  # all that are named


def read(path: Path, text: bytes) -> Reading:
    """Reads every line; a frame's time is the header's start and the line's own offset in milliseconds."""
    return read_long(path, (text,))


def read_long(path: Path, parts: Iterable[bytes]) -> Reading:
    """The same of a file in parts that end with a line."""
    header = _Header()
    rules: list[tuple[Grammar, Lanes | None]] = []

    def table_of(lines: Lines) -> Table:
        version = header.version
        _listen(path, header, lines)
        if not rules:
            columns, numbered = _columns(path, header), header.version < b"2"
            rules.append((grammar(columns, numbered=numbered), lanes(columns, numbered=numbered)))
        elif header.version != version:
            raise LogError(_VERSIONS.format(path))
        table = tabulate(lines, *rules[0])
        table.reject(np.flatnonzero(table.times_ns > LONGEST_NS), "time stamp beyond thirty years")
        return table

    whole = in_parts("trc", parts, table_of)
    start, note = _start(header)
    if start is None:
        return dated(path, replace(whole, notes=note), TimeBase.SINCE_START)
    whole.columns.times_ns[:] += start
    reading = dated(path, replace(whole, notes=note), TimeBase.SINCE_1970)
    return replace(reading, date_width_ns=1_000_000)  # as coarse as the date in words, of milliseconds


def _start(header: _Header) -> tuple[int | None, tuple[str, ...]]:
    """The start of the log since 1970 if the header's two statements of it do not contradict, and what was assumed."""
    by_days, by_words = start_ns(header.start, b""), start_ns(b"", header.started)
    start = by_words if by_days is None else by_days
    if start is None:
        return None, (_UNDATED,)
    if by_days is not None and by_words is not None:
        apart = (by_days - by_words + _QUARTER_NS // 2) % _QUARTER_NS - _QUARTER_NS // 2
        if abs(apart) > 10**9:
            return None, (_CONTRADICT,)
    utc = header.started.endswith(b"+00:00") and by_days in (None, by_words)
    return start, () if utc else local_notes("the start time of the log", [start])


def _listen(path: Path, header: _Header, lines: Lines) -> None:
    """Take in what the lines with a semicolon say."""
    for row in np.flatnonzero(lines.first_bytes() == ord(";")):
        line = lines.line(int(row))[:LONGEST].rstrip()
        if header.started and line[1:2] != b"$":
            continue  # a remark, of which there may be many
        if match := VERSION.fullmatch(line):
            header.version = match[1]
            header.versions.add(match[1])
        elif (match := COLUMNS.fullmatch(line)) and not header.columns:
            header.columns = match[1]
        elif (match := START.fullmatch(line)) and not header.start:
            header.start = match[1]
        elif (match := STARTED.fullmatch(line)) and not header.started:
            header.started = match[1]
    if len(header.versions) > 1:
        raise LogError(_VERSIONS.format(path))


def _columns(path: Path, header: _Header) -> list[bytes]:
    """The letters of the columns, by the header or else by the version."""
    text = _BY_VERSION.get(header.version) or header.columns.replace(b" ", b"")
    columns = text.split(b",")
    known = set(columns) <= set(b"N O T B I d R L l D".split()) and len(set(columns)) == len(columns)
    needed = {b"O", b"I", b"D"} <= set(columns) and bool({b"L", b"l"} & set(columns))
    if header.version[:1] not in (b"1", b"2") or not (known and needed) or columns[-1] != b"D":
        said = header.columns.decode("latin-1") or "no line ';$COLUMNS='"
        raise LogError(
            f"{path}: a TRC log of version {header.version.decode('latin-1')} with columns that cannot be read here "
            f"({said}); export it as version 1.1, 1.3, 2.0 or 2.1"
        )
    return columns


def start_ns(days: bytes, words: bytes) -> int | None:
    """Nanoseconds since 1970 of the start, from days since 1899-12-30 or else from words; None: neither is readable.

    The days are taken exactly as written and rounded to a nanosecond; a date without zone is read as UTC.
    """
    if days:
        since_zero = round(Fraction(days.decode("ascii")) * 86400 * 10**9)
        start = since_zero - (_EPOCH - _ZERO) // timedelta(microseconds=1) * 1000
        return start if 0 <= start <= 7 * 10**18 else None
    for form in ("%d.%m.%Y %H:%M:%S.%f", "%d.%m.%Y %H:%M:%S", "iso"):
        try:
            text = words.decode("ascii")
            when = datetime.fromisoformat(text) if form == "iso" else datetime.strptime(text, form)  # noqa: DTZ007 zone set below
        except ValueError:
            continue
        if when.tzinfo is None:
            when = when.replace(tzinfo=UTC)
        return (when - _EPOCH) // timedelta(microseconds=1) * 1000 if 1970 <= when.year <= 2190 else None
    return None
