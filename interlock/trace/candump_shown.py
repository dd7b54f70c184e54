"""The lines that candump shows on a screen: `(stamp) interface [RX - -] identifier [length] bytes ['text']`."""

import re
from datetime import UTC, datetime
from typing import Final

from interlock.trace.reading import LENGTHS_FD
from interlock.trace.shape import Kind, Shape, Span

__all__ = ["is_dated", "is_unstamped", "looks_like", "shape_of"]

_DATE: Final = rb"\((?P<date>\d{4}-\d\d-\d\d)[ \t]+(?P<hour>\d\d):(?P<minute>[0-5]\d):(?P<tens>[0-5])"
_STAMP: Final = rb"(?:" + _DATE + rb"|\()(?P<seconds>\d{1,12})\.(?P<fraction>\d{1,9})\)"
_FRAME: Final = (
    rb"[ \t]+(?P<channel>[!-~]+)[ \t]+"
    rb"(?:[RT]X[ \t]+[B-][ \t]+[E-][ \t]+)?(?P<ident>[0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})[ \t]+"
    rb"\[(?P<size>\d{1,2})\](?:(?P<data>(?:[ \t]+[0-9A-Fa-f]{2})*)(?P<error>[ \t]+ERRORFRAME)?"
    rb"|(?P<remote>[ \t]+remote[ \t]+request))(?:[ \t]+(?P<text>'.*'))?[ \t]*"
)
_LINE: Final = re.compile(rb"[ \t]*" + _STAMP + _FRAME)
_BARE: Final = re.compile(rb"[ \t]*" + _FRAME[len(rb"[ \t]+") :])
_WORD: Final = re.compile(rb"\S+")
_DATED: Final = re.compile(rb"^[ \t]*" + _DATE, re.MULTILINE)


def looks_like(line: bytes) -> bool:
    """Whether this line can only be of this form, stamped or not."""
    return _LINE.fullmatch(line) is not None or is_unstamped(line)


def is_unstamped(line: bytes) -> bool:
    """Whether this line would be a frame if it were stamped."""
    return _BARE.fullmatch(line) is not None


def is_dated(text: bytes) -> bool:
    """Whether the stamps of these lines are dates (`candump -t A`)."""
    return _DATED.search(text) is not None


def shape_of(line: bytes) -> Shape | str | None:
    """The shape of a stamped line, or why it is no frame; None if it is not of this form at all."""
    match = _LINE.fullmatch(line)
    if match is None:
        return None
    added = _added_ns(match)
    if added is None:
        return "a date that is none"
    kind = Kind.ERROR if match["error"] else Kind.REMOTE if match["remote"] else Kind.FRAME
    spans = tuple(word.span() for word in _WORD.finditer(line, *match.span("data"))) if match["data"] else ()
    if kind is Kind.FRAME and (len(spans) != int(match["size"]) or len(spans) not in LENGTHS_FD):
        return "not as many data bytes as the line says"
    ignored = (match.start("text") + 1, match.end("text") - 1) if match["text"] else (0, 0)
    return _shape(match, kind, spans, added, ignored)


def _shape(match: re.Match[bytes], kind: Kind, spans: tuple[Span, ...], added: int, ignored: Span) -> Shape:
    return Shape(
        kind,
        seconds=match.span("seconds"),
        fraction=match.span("fraction"),
        ident=match.span("ident"),
        extended=len(match["ident"]) == 8,
        payload=spans if kind is Kind.FRAME else (),
        length=len(spans) if kind is Kind.FRAME else 0,
        channel=match["channel"],
        added_ns=added,
        ignored=ignored,
    )


def _added_ns(match: re.Match[bytes]) -> int | None:
    """What date, hour, minute and tens of seconds add; the one digit of seconds that is left is the stamp's field."""
    if match["date"] is None:
        return 0
    if len(match["seconds"]) != 1:
        return None
    text = f"{match['date'].decode()} {match['hour'].decode()}:{match['minute'].decode()}:{match['tens'].decode()}0"
    try:
        when = datetime.strptime(text, "%Y-%m-%d %H:%M:%S").replace(tzinfo=UTC)
    except ValueError:
        return None
    since = when - datetime(1970, 1, 1, tzinfo=UTC)
    return (since.days * 86400 + since.seconds) * 10**9 if 1970 <= when.year <= 2200 else None
