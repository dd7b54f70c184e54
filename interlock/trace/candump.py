"""candump text: `(seconds.fraction) interface identifier#data [R|T]`, or the columns that it shows on a screen."""

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from interlock.trace import candump_shown
from interlock.trace.candump_lane import LANES
from interlock.trace.parts import read_parts
from interlock.trace.reading import LENGTHS_FD, Reading
from interlock.trace.shape import Kind, Shape

__all__ = ["looks_like", "read", "read_long"]

_LINE: Final = re.compile(
    rb"[ \t]*\((\d{1,12})\.(\d{1,9})\)[ \t]+([!-~]+)[ \t]+([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#"
    rb"(?:(#[0-9A-Fa-f])?((?:[0-9A-Fa-f]{2})*)(?:_[9A-Fa-f])?|[Rr][0-9A-Fa-f]?(?:_[9A-Fa-f])?)"
    rb"(?:[ \t]+([RrTt]))?[ \t]*"
)
_ZONE: Final = "the dates of the log carry no time zone: read as UTC"
_HEAD: Final = 4096
_ERROR_DIGITS: Final = b"23"  # first of eight digits: CAN_ERR_FLAG (0x20000000) of Linux <linux/can.h>


def looks_like(line: bytes) -> bool:
    """Whether this line can only be of a candump log."""
    return _LINE.fullmatch(line) is not None or candump_shown.looks_like(line)


def read(path: Path, text: bytes) -> Reading:
    """Reads every line; stamps count since 1970 if they can, see `TimeBase.GUESS`."""
    return read_long(path, (text,))


def read_long(path: Path, parts: Iterable[bytes]) -> Reading:
    """The same of a file in parts that end with a line."""
    return read_parts("candump", path, parts, _grammar, _notes, LANES)


def _notes(text: bytes) -> tuple[str, ...]:
    return (_ZONE,) if candump_shown.is_dated(text[:_HEAD]) else ()


def _grammar(line: bytes) -> Shape | str:
    if not line.strip():
        return Shape(Kind.COMMENT)
    match = _LINE.fullmatch(line)
    if match is None:
        shape = candump_shown.shape_of(line)
        return shape if shape is not None else _why_not(line)
    data = match.span(6)
    length = (data[1] - data[0]) // 2
    if length not in LENGTHS_FD or (length > 8 and match[5] is None):
        return "a payload of a length that no frame has"
    ident, extended = match.span(4), len(match[4]) == 8
    kind = Kind.FRAME if match[6] is not None else Kind.REMOTE
    if extended and match[4][:1] in _ERROR_DIGITS:
        kind, ident = Kind.ERROR, (ident[0] + 1, ident[1])
    return Shape(
        kind,
        seconds=match.span(1),
        fraction=match.span(2),
        ident=ident,
        extended=extended,
        payload=tuple((at, at + 2) for at in range(*data, 2)) if length else (),
        length=length,
        loose_hex=((match.end(5) - 1, match.end(5)),) if match[5] else (),
        free=((match.start(7), b"RrTt"),) if match[7] else (),
        channel=match[3],
        bus=(match.end(3) - 1, match.end(3)) if match[3][-1:].isdigit() else (0, 0),
    )


def _why_not(line: bytes) -> str:
    if re.match(rb"[ \t]*\(\d*,\d*\)", line):
        return "a decimal comma in the time stamp"
    if re.match(rb"[ \t]*\(\d+\.\d{10,}\)", line):
        return "more than nine digits after the point of the time stamp"
    if candump_shown.is_unstamped(line):
        return "no time stamp: record with candump -l, or -t a"
    if not re.match(rb"[ \t]*\((?:\d{4}-\d\d-\d\d )?[\d:]{1,12}\.\d{1,9}\)", line):
        return "no time stamp (seconds.fraction) at its beginning"
    return "not of the form (seconds.fraction) interface identifier#data"
