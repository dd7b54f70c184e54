"""The lines of a TRC log, each by itself: header, frames of every column order, status and error lines."""

import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from interlock.trace.lane import Kernel, Lanes
from interlock.trace.reading import LENGTHS_FD
from interlock.trace.shape import Grammar, Kind, Shape, Span, widened

__all__ = ["COLUMNS", "START", "STARTED", "VERSION", "grammar", "lanes", "looks_like"]

VERSION: Final = re.compile(rb";\$FILEVERSION=([0-9.]{1,8})")
COLUMNS: Final = re.compile(rb";\$COLUMNS=([A-Za-z, ]{1,60})")
START: Final = re.compile(rb";\$STARTTIME=(\d{1,6}(?:\.\d{1,30})?)")
STARTED: Final = re.compile(rb";\s*Start time:\s*([0-9].{0,60})")

_NUMBER: Final = rb"[ \t]*(?P<number>\d{1,12})"
_OFFSET: Final = rb"(?P<seconds>\d{1,12})(?:\.(?P<fraction>\d{1,6}))?"
_PIECES: Final = {
    b"O": _OFFSET,
    b"T": rb"(?P<type>DT|FD|FB|FE|BI|RR)",
    b"B": rb"(?P<channel>\d{1,2}|-)",
    b"I": rb"(?P<ident>[0-9A-Fa-f]{4,8})",
    b"d": rb"(?P<way>Rx|Tx)",
    b"R": rb"(?:-|[0-9A-Fa-f]{2})",
    b"L": rb"(?P<code>\d{1,2})",
    b"l": rb"(?P<size>\d{1,2})",
}
_DATA: Final = rb"(?:(?P<data>(?:[ \t]+[0-9A-Fa-f]{2})*)|(?P<remote>[ \t]+RTR))[ \t]*"
_OTHER: Final = re.compile(
    _NUMBER + rb"\)?[ \t]+" + _OFFSET + rb"[ \t]+(?:(?:\d{1,2}|-)[ \t]+)?"
    rb"(?:(?P<error>Error|ER)|Warng|ST|EC|EV|FFFFFFFF)\b.*"
)
_FD: Final = (b"FD", b"FB", b"FE", b"BI")
_WORD: Final = re.compile(rb"\S+")
_CODES: Final = dict(enumerate(LENGTHS_FD))


def _pattern(columns: Sequence[bytes], *, numbered: bool) -> re.Pattern[bytes]:
    """One frame line; `numbered`: the number ends with a bracket, as before version 2."""
    number = _NUMBER + (rb"\)" if numbered else b"")
    pieces = [number if column == b"N" else _PIECES[column] for column in columns if column != b"D"]
    return re.compile(rb"[ \t]*" + rb"[ \t]+".join(pieces) + _DATA)


_KNOWN: Final = tuple(
    _pattern(columns.split(b","), numbered=numbered)
    for columns, numbered in (
        (b"N,O,I,L,D", True),
        (b"N,O,d,I,L,D", True),
        (b"N,O,B,d,I,R,L,D", True),
        (b"N,O,T,I,d,L,D", False),
        (b"N,O,T,B,I,d,R,L,D", False),
    )
)


def looks_like(line: bytes) -> bool:
    """Whether this line can only be of a TRC log."""
    text = line.rstrip()
    return any(pattern.fullmatch(text) for pattern in (VERSION, COLUMNS, START, *_KNOWN))


def grammar(columns: Sequence[bytes], *, numbered: bool) -> Grammar:
    """The grammar of all lines of a file with these columns."""
    pattern = _pattern(columns, numbered=numbered)

    def read(line: bytes) -> Shape | str:
        if not line.strip() or line.lstrip()[:1] == b";":
            return Shape(Kind.COMMENT)
        other = _OTHER.fullmatch(line)
        if other is not None:
            kind = Kind.ERROR if other["error"] else Kind.EVENT
            return Shape(kind, seconds=other.span("seconds"), fraction=_fraction(other), decimals=6)
        match = pattern.fullmatch(line)
        return _why_not(line) if match is None else _frame(match)

    return read


def lanes(columns: Sequence[bytes], *, numbered: bool) -> Lanes | None:
    """The fast lanes of lines with these columns; None: in such lines a frame may look like an event at first."""
    if list(columns[:2]) != [b"N", b"O"] or b"R" in columns[2:4]:
        return None
    codes = np.array([ord(column) for column in columns[2:-1]], np.int64)
    return Lanes((), Kernel("trc_kernel", "trc", nameless=b"1", decimals=6, more=(codes, numbered)))


def _fraction(match: re.Match[bytes]) -> Span:
    end = match.end("seconds")
    return (end, end) if match["fraction"] is None else match.span("fraction")


def _frame(match: re.Match[bytes]) -> Shape | str:
    named = match.groupdict()
    kind = Kind.REMOTE if match["remote"] or named.get("type") == b"RR" else Kind.FRAME
    spans: tuple[Span, ...] = ()
    if match["data"]:
        spans = tuple(word.span() for word in _WORD.finditer(match.string, *match.span("data")))
    if kind is Kind.REMOTE:
        spans = ()
    elif len(spans) not in _lengths(named):
        return "not as many data bytes as the line says"
    return Shape(
        kind,
        seconds=widened(match.string, match.span("seconds"), 12),
        fraction=_fraction(match),
        ident=match.span("ident"),
        extended=len(match["ident"]) > 4,
        payload=spans,
        length=len(spans),
        loose=() if named.get("number") is None else (widened(match.string, match.span("number"), 12),),
        padded=True,
        free=((match.start("way"), b"RT"),) if named.get("way") else (),
        channel=named.get("channel") or b"1",
        bus=match.span("channel")
        if (named.get("channel") or b"-").isdigit() and len(match["channel"]) == 1
        else (0, 0),
        decimals=6,
    )


def _lengths(named: dict[str, bytes | None]) -> tuple[int, ...]:
    """How many data bytes the line may have: by its length in bytes, or by its data length code.

    Long frames of type DT are those of writers that put the number of bytes where the code belongs.
    """
    size, code, flexible = named.get("size"), named.get("code"), named.get("type") in _FD
    if size is not None:
        return (int(size),) if int(size) in LENGTHS_FD else ()
    stated = int(code or b"0")
    if flexible:
        return (_CODES[stated],) if stated in _CODES else ()
    if stated <= 8:
        return (stated,)
    as_bytes = (stated,) if stated in LENGTHS_FD and "type" in named else ()
    return (*as_bytes, 8) if stated <= 15 else as_bytes


def _why_not(line: bytes) -> str:
    if re.match(rb"[ \t]*\d+\)?[ \t]+\d+,\d+[ \t]", line):
        return "a decimal comma in the time stamp"
    if re.match(rb"[ \t]*\d+\)?[ \t]+\d+\.\d{7,}[ \t]", line):
        return "more than six digits after the point of a time stamp in milliseconds"
    return "not of the form that the header's version and columns give"
