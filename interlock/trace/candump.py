"""candump log text: `(seconds.fraction) interface identifier#data [R|T]`, as Linux can-utils writes it."""

import re
from pathlib import Path
from typing import Final

from interlock.trace.bulk import tabulate
from interlock.trace.lines import split
from interlock.trace.reading import LENGTHS_FD, Reading
from interlock.trace.shape import Kind, Shape
from interlock.trace.text import TimeBase, reading_of

__all__ = ["looks_like", "read"]

_LINE: Final = re.compile(
    rb"[ \t]*\((\d{1,12})\.(\d{1,9})\)[ \t]+([!-~]+)[ \t]+([0-9A-Fa-f]{3}|[0-9A-Fa-f]{8})#"
    rb"(?:(#[0-9A-Fa-f])?((?:[0-9A-Fa-f]{2})*)(?:_[9A-Fa-f])?|[Rr][0-9A-Fa-f]?(?:_[9A-Fa-f])?)"
    rb"(?:[ \t]+[RrTt])?[ \t]*"
)
_ERROR_DIGITS: Final = b"23"  # first of eight digits: CAN_ERR_FLAG (0x20000000) of Linux <linux/can.h>


def looks_like(line: bytes) -> bool:
    """Whether this line can only be of a candump log."""
    return _LINE.fullmatch(line) is not None


def read(path: Path, text: bytes) -> Reading:
    """Reads every line; stamps count since 1970 if they can, see `TimeBase.GUESS`."""
    lines = split(text)
    return reading_of("candump", path, lines, tabulate(lines, _grammar), TimeBase.GUESS)


def _grammar(line: bytes) -> Shape | str:
    if not line.strip():
        return Shape(Kind.COMMENT)
    match = _LINE.fullmatch(line)
    if match is None:
        return _why_not(line)
    data = match.span(6)
    length = (data[1] - data[0]) // 2
    if length not in LENGTHS_FD or (length > 8 and match[3 + 2] is None):
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
        channel=match[3],
    )


def _why_not(line: bytes) -> str:
    if re.match(rb"[ \t]*\(\d*,\d*\)", line):
        return "a decimal comma in the time stamp"
    if re.match(rb"[ \t]*\(\d+\.\d{10,}\)", line):
        return "more than nine digits after the point of the time stamp"
    if not re.match(rb"[ \t]*\(\d{1,12}\.\d{1,9}\)", line):
        return "no time stamp (seconds.fraction) at its beginning"
    return "not of the form (seconds.fraction) interface identifier#data"
