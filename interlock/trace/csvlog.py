"""Comma-separated frames with the header of python-can's CSVWriter; payloads in base64 (RFC 4648)."""

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from interlock.trace.lane import Kernel, Lanes
from interlock.trace.parts import read_parts
from interlock.trace.reading import LENGTHS_FD, Reading
from interlock.trace.shape import Kind, Shape

__all__ = ["HEADER", "LANES", "looks_like", "read", "read_long"]

HEADER: Final = b"timestamp,arbitration_id,extended,remote,error,dlc,data"

_BASE64: Final = rb"(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{3}=|[A-Za-z0-9+/]{2}==)?"
_LINE: Final = re.compile(
    rb"(\d{1,12})\.(\d{1,9}),0x([0-9a-fA-F]{1,8}),([01]),([01]),([01]),(\d{1,2}),(" + _BASE64 + rb")"
)

LANES: Final = Lanes((), Kernel("csv_kernel", "csv", spread=("csv_kernel", "long_base64")))


def looks_like(line: bytes) -> bool:
    """Whether this line can only be of such a file."""
    return line == HEADER or _LINE.fullmatch(line) is not None


def read(path: Path, text: bytes) -> Reading:
    """Reads every line; stamps count since 1970 if they can, see `TimeBase.GUESS`."""
    return read_long(path, (text,))


def read_long(path: Path, parts: Iterable[bytes]) -> Reading:
    """The same of a file in parts that end with a line."""
    return read_parts("csv", path, parts, _grammar, lanes=LANES)


def _grammar(line: bytes) -> Shape | str:
    if not line.strip() or line == HEADER:
        return Shape(Kind.COMMENT)
    match = _LINE.fullmatch(line)
    if match is None:
        return _why_not(line)
    kind = Kind.ERROR if match[6] == b"1" else Kind.REMOTE if match[5] == b"1" else Kind.FRAME
    length = len(match[8]) // 4 * 3 - match[8].count(b"=")
    if kind is Kind.FRAME and (length != int(match[7]) or length not in LENGTHS_FD):
        return "the payload is not as long as the line says"
    return Shape(
        kind,
        seconds=match.span(1),
        fraction=match.span(2),
        ident=match.span(3),
        extended=match[4] == b"1",
        payload=(match.span(8),) if kind is Kind.FRAME and length else (),
        encoding="base64",
        length=length if kind is Kind.FRAME else 0,
    )


def _why_not(line: bytes) -> str:
    if re.match(rb"\d+,\d+,0x", line):
        return "a decimal comma in the time stamp"
    if re.match(rb"\d+\.\d{10,},", line):
        return "more than nine digits after the point of the time stamp"
    if re.match(rb"\d+(\.\d*)?[eE]", line):
        return "a time stamp with an exponent"
    return "not of the form " + HEADER.decode()
