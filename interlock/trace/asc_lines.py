"""The lines of an ASC log, each by itself: headers, frames, events."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from interlock.trace.reading import LENGTHS_FD
from interlock.trace.shape import Grammar, Kind, Shape, widened

__all__ = [
    "BASE",
    "BEGIN",
    "DATE",
    "END",
    "STAMPS",
    "Radix",
    "date_ns",
    "grammar",
    "looks_like",
    "short_fraction",
    "stripped",
]

DATE: Final = re.compile(rb"date\s+(\S.*)", re.IGNORECASE)
BASE: Final = re.compile(rb"base\s+(hex|dec)(?:\s+timestamps\s+(absolute|relative))?", re.IGNORECASE)
STAMPS: Final = re.compile(rb"timestamps\s+(absolute|relative)", re.IGNORECASE)  # in a line of their own
BEGIN: Final = re.compile(rb"begin\s+triggerblock(?:\s+(\S.*))?", re.IGNORECASE)
END: Final = re.compile(rb"end\s+triggerblock", re.IGNORECASE)
_OTHER: Final = re.compile(
    rb"\s*(//.*|(no\s+)?internal\s+events\s+logged\s*|previous\s+log\s+file:.*)?", re.IGNORECASE
)
_BLANK: Final = rb"[\s\xa0\xc2]"  # some programs write a blank that does not break, in Windows-1252 or UTF-8
_START: Final = re.compile(
    _BLANK + rb"*(?:(?P<seconds>\d{1,12})\.(?P<fraction>\d{1,9})|0+)?" + _BLANK + rb"*"
    rb"Start" + _BLANK + rb"+of" + _BLANK + rb"+measurement\b.*",
    re.IGNORECASE,
)

_WHEN: Final = re.compile(
    rb"\S+\s+(?P<month>\S{3,4}?)\.?\s+(?P<day>\d{1,2})\s+(?P<h>\d{1,2}):(?P<m>\d\d):(?P<s>\d\d)"
    rb"(?:\.(?P<fraction>\d{1,9}))?(?:\s*(?P<half>am|pm))?\s+(?P<year>\d{4})",
    re.IGNORECASE,
)
_MONTHS: Final = {
    name: number
    for number, names in enumerate(
        (
            "jan",
            "feb",
            "mar,mär,mrz",
            "apr",
            "may,mai",
            "jun",
            "jul",
            "aug",
            "sep",
            "oct,okt",
            "nov",
            "dec,dez",
        ),
        1,
    )
    for name in names.split(",")
}

_STAMP: Final = rb"\s*(?P<seconds>\d{1,12})\.(?P<fraction>\d{1,9})\s+"
_EVENT: Final = re.compile(
    _STAMP + rb"(?:Start\s+of\s+measurement|(?:CAN\s+)?\d+\s+(?:Statistic:|Status:|OverloadFrame)|"
    rb"(?:CAN\s+)?Status:|log\s|SV:|EnvVar|TFS:|TriggerEvent:|Comment|GPS|J1939TP|L\w\s|Fr\w*\s|ETH\s).*",
    re.IGNORECASE,
)
_ERROR: Final = re.compile(
    _STAMP + rb"(?P<channel>\d+|CANFD\s+\d+(?:\s+[RT]x)?)\s+ErrorFrame\b.*", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Radix:
    """The patterns of frame lines for one number base."""

    base: int
    classic: re.Pattern[bytes]
    fd: re.Pattern[bytes]


def _radix(base: int, digit: bytes, ident: bytes, byte: bytes) -> Radix:
    """Patterns after the examples in python-can's ASCWriter and the README of the open vector_asc reader."""
    tail = (
        rb"(?:\s+Length\s*=\s*(?P<l>\d+))?(?:\s+BitCount\s*=\s*(?P<b>\d+))?"
        rb"(?:\s+ID\s*=\s*(?P<i>\d+)x?)?\s*"
    )
    classic = (
        _STAMP + rb"(?P<channel>\d+)\s+(?P<ident>" + ident + rb")(?P<x>[xX]?)\s+(?P<way>Rx|Tx|TxRq)\s+"
        rb"(?:d\s+(?P<dlc>"
        + digit
        + rb"{1,2})(?P<data>(?:\s+"
        + byte
        + rb")*)|r(?:\s+(?P<length>"
        + digit
        + rb"{1,2}))?)"
    )
    fd = (
        _STAMP + rb"CANFD\s+(?P<channel>\d+)\s+(?P<way>Rx|Tx|TxRq)\s+(?P<ident>" + ident + rb")(?P<x>[xX]?)"
        rb"(?:\s+[A-Za-z_]\w*)?\s+(?P<switch>[01])\s+(?P<state>[01])\s+(?P<dlc>[0-9A-Fa-f]{1,2})\s+(?P<size>\d{1,2})(?P<rest>(?:\s+\w+)*)\s*"
    )
    return Radix(base, re.compile(classic + tail), re.compile(fd))


_RADIX: Final = {
    b"hex": _radix(16, rb"[0-9A-Fa-f]", rb"[0-9A-Fa-f]{1,8}", rb"[0-9A-Fa-f]{2}"),
    b"dec": _radix(10, rb"[0-9]", rb"[0-9]{1,10}", rb"[0-9]{1,3}"),
}
_HEX_WORD: Final = re.compile(rb"[0-9A-Fa-f]{1,12}")


def stripped(line: bytes) -> bytes:
    """A line of the header without the blanks around it, and without the mark that some editors put before a file."""
    return line.removeprefix(b"\xef\xbb\xbf").strip()


def looks_like(line: bytes) -> bool:
    """Whether this line can only be of an ASC log."""
    return any(pattern.fullmatch(stripped(line)) for pattern in (BASE, BEGIN, END, _RADIX[b"hex"].classic))


def date_ns(text: bytes) -> int | None:
    """Nanoseconds since 1970 of a date such as `Mon Sep 21 02:13:20.000 pm 2026`, read as UTC; None: unreadable."""
    match = _WHEN.fullmatch(text)
    if match is None:
        return None
    try:
        name = match["month"].decode("utf-8")
    except UnicodeDecodeError:
        name = match["month"].decode("latin-1")
    hour = int(match["h"])
    if match["half"]:
        hour = hour % 12 + 12 * (match["half"].lower() == b"pm")
    try:
        whole = datetime(
            int(match["year"]),
            _MONTHS[name.lower()],
            int(match["day"]),
            hour,
            int(match["m"]),
            int(match["s"]),
            tzinfo=UTC,
        )
    except (KeyError, ValueError):
        return None
    if not 1970 <= whole.year <= 2200:
        return None
    since = whole - datetime(1970, 1, 1, tzinfo=UTC)
    return (since.days * 86400 + since.seconds) * 10**9 + _fraction_ns(match["fraction"] or b"0")


def _fraction_ns(digits: bytes) -> int:
    """Fewer than three digits are whole milliseconds: python-can's writer does not fill them up."""
    return int(digits) * 10**6 if len(digits) < 3 else int(digits.ljust(9, b"0"))


def short_fraction(text: bytes) -> bool:
    """Whether a date's fraction of a second could be meant otherwise than it is read."""
    return re.search(rb":\d\d\.(?=\d?[1-9]|[1-9])\d{1,2}(?!\d)", text) is not None


def grammar(base: bytes) -> Grammar:
    """The grammar of all lines of a file whose header says this base (hex or dec)."""
    radix = _RADIX[base]

    def read(line: bytes) -> Shape | str:
        match = radix.classic.fullmatch(line)
        if match is not None:
            return _classic(match, radix)
        match = radix.fd.fullmatch(line)
        if match is not None:
            return _fd(match, radix)
        return _other(line)

    return read


def _classic(match: re.Match[bytes], radix: Radix) -> Shape | str:
    kind = Kind.FRAME if match["dlc"] is not None else Kind.REMOTE
    spans: tuple[tuple[int, int], ...] = ()
    if kind is Kind.FRAME:
        spans = _words(match, "data")
        dlc = int(match["dlc"], radix.base)
        if dlc > 15 or len(spans) != min(dlc, 8):
            return "not as many data bytes as the line says"
    loose = tuple(match.span(key) for key in "lbi" if match[key])
    length = (match.span("length"),) if match["length"] else ()
    if radix.base == 10:
        return _shape(kind, match, radix, spans, loose=(*loose, *length))
    return _shape(kind, match, radix, spans, loose=loose, loose_hex=length)


def _fd(match: re.Match[bytes], radix: Radix) -> Shape | str:
    words, size = _words(match, "rest"), int(match["size"])
    if size not in LENGTHS_FD or len(words) < size:
        return "not as many data bytes as the line says"
    if not size and int(match["dlc"], 16):
        return _shape(Kind.REMOTE, match, radix, ())
    spans, rest = words[:size], words[size:]
    line = match.string
    if any(stop - start > 3 or (radix.base == 16 and stop - start != 2) for start, stop in spans):
        return "a data byte that is none"
    if not all(_HEX_WORD.fullmatch(line, *span) for span in words):
        return "a field that is no number"
    if radix.base == 10 and not all(line[slice(*span)].isdigit() for span in spans):
        return "a data byte that is none"
    flags = tuple((match.start(name), b"01") for name in ("switch", "state"))
    return _shape(Kind.FRAME, match, radix, spans, loose_hex=rest, free=flags)


def _words(match: re.Match[bytes], group: str) -> tuple[tuple[int, int], ...]:
    start, stop = match.span(group)
    return tuple(word.span() for word in re.compile(rb"\S+").finditer(match.string, start, stop))


def _shape(
    kind: Kind,
    match: re.Match[bytes],
    radix: Radix,
    payload: tuple[tuple[int, int], ...],
    *,
    loose: tuple[tuple[int, int], ...] = (),
    loose_hex: tuple[tuple[int, int], ...] = (),
    free: tuple[tuple[int, bytes], ...] = (),
) -> Shape:
    decimal, line, channel = radix.base == 10, match.string, match.span("channel")
    asked = match["way"] == b"TxRq"
    return Shape(
        Kind.EVENT if asked else kind,
        seconds=widened(line, match.span("seconds"), 12) if decimal else match.span("seconds"),
        fraction=match.span("fraction"),
        ident=match.span("ident"),
        ident_base=radix.base,
        extended=bool(match["x"]),
        payload=tuple(widened(line, span, 3) for span in payload) if decimal else payload,
        encoding="dec" if decimal else "hex",
        padded=decimal,
        length=len(payload),
        loose=loose,
        loose_hex=loose_hex,
        free=free if asked else ((match.start("way"), b"RT"), *free),
        channel=match["channel"].lstrip(b"0") or b"0",
        bus=channel if channel[1] - channel[0] == 1 else (0, 0),
    )


def _other(line: bytes) -> Shape | str:
    for pattern in (_OTHER, DATE, BASE, STAMPS, BEGIN, END):
        if pattern.fullmatch(stripped(line)):
            return Shape(Kind.COMMENT)
    for pattern, kind in ((_ERROR, Kind.ERROR), (_EVENT, Kind.EVENT)):
        match = pattern.fullmatch(line)
        if match is not None:
            return Shape(kind, seconds=match.span("seconds"), fraction=match.span("fraction"))
    if match := _START.fullmatch(line):
        if match["seconds"] is None:
            return Shape(Kind.COMMENT)
        return Shape(Kind.EVENT, seconds=match.span("seconds"), fraction=match.span("fraction"))
    if re.match(rb"\s*\d+,\d+\s", line):
        return "a decimal comma in the time stamp"
    if re.match(rb"\s*\d+\.\d{10,}\s", line):
        return "more than nine digits after the point of the time stamp"
    if re.match(rb"\s*\d+\.\d+\s", line):
        return "neither a frame nor an event known here"
    return "neither a header nor a stamped line"
