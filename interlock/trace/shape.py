"""Where the fields of a text line stand: what one line of a kind teaches about all lines of its length."""

import base64
from collections.abc import Callable
from dataclasses import dataclass
from enum import IntEnum
from typing import Final

__all__ = ["MAX_SECONDS", "BadField", "Fields", "Grammar", "Kind", "Shape", "fields_of", "widened"]

MAX_SECONDS: Final = 9_000_000_000
"""Stamps beyond do not fit into 63 bits of nanoseconds."""


class Kind(IntEnum):
    """What a line is."""

    UNREAD = 0
    FRAME = 1
    REMOTE = 2
    ERROR = 3
    EVENT = 4  # stamped, but no frame
    COMMENT = 5  # not stamped
    REJECTED = 6


Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Shape:
    """The places of the fields in one line; bytes in no field must be the same in each line of this shape.

    A line that is not stamped has no fields at all. Loose fields may differ but are not read.
    """

    kind: Kind
    seconds: Span = (0, 0)
    fraction: Span = (0, 0)
    ident: Span = (0, 0)
    ident_base: int = 16
    extended: bool = False
    payload: tuple[Span, ...] = ()  # one field a byte; or one field in all if `encoding` is "base64"
    encoding: str = "hex"  # of the payload: hex, dec or base64
    length: int = 0  # of the payload in bytes
    loose: tuple[Span, ...] = ()  # decimal digits that vary and do not matter here
    loose_hex: tuple[Span, ...] = ()  # the same, hexadecimal
    padded: bool = False  # seconds, payload and loose digits may have blanks in place of leading zeros
    ignored: Span = (0, 0)  # bytes that may be anything
    free: tuple[tuple[int, bytes], ...] = ()  # places, and the characters of which any may stand there
    channel: bytes = b""
    bus: Span = (0, 0)  # a digit that ends the name of the channel: with another one it is another channel
    decimals: int = (
        9  # digits after the point that make up nanoseconds: 9 for stamps in seconds, 6 in milliseconds
    )
    added_ns: int = 0  # what the rest of the line (a date) adds to the stamp

    def channel_with(self, digit: int) -> bytes:
        """The name of the channel if this character ends it."""
        return self.channel[:-1] + bytes([digit])

    @property
    def largest_whole(self) -> int:
        """The largest number before the point of the stamp."""
        return MAX_SECONDS * int(10 ** (9 - self.decimals))

    @property
    def largest_ident(self) -> int:
        """The largest identifier of this kind (ISO 11898-1: 11 or 29 bits)."""
        return 0x1FFFFFFF if self.extended else 0x7FF


Grammar = Callable[[bytes], "Shape | str"]
"""The shape of one line (without its line end), or the reason why it is not a line of the format."""


def widened(line: bytes, span: Span, most: int) -> Span:
    """The span of a number with the blanks before it, up to so many characters, that could be digits of a larger one.

    One blank or tab is left between it and what stands before.
    """
    start, stop = span
    while start > 0 and stop - start < most and line[start - 1 : start] == b" ":
        start -= 1
    while start < span[0] and start > 0 and line[start - 1 : start] not in (b" ", b"\t"):
        start += 1
    return start, stop


class BadField(ValueError):
    """A field of the right form whose value cannot be."""


@dataclass(frozen=True, slots=True)
class Fields:
    """The values in one line."""

    time_ns: int
    ident: int
    payload: bytes


def fields_of(line: bytes, shape: Shape) -> Fields:
    """The values in a line of this shape, exactly; raises BadField for a value that cannot be."""
    seconds = int(line[slice(*shape.seconds)] or b"0")
    fraction = line[slice(*shape.fraction)]
    if seconds > shape.largest_whole:
        raise BadField("time stamp beyond the year 2255")
    unit = 10**shape.decimals
    time_ns = shape.added_ns + seconds * unit + int(fraction.ljust(shape.decimals, b"0"))
    ident = int(line[slice(*shape.ident)] or b"0", shape.ident_base)
    if ident > shape.largest_ident:
        raise BadField("identifier beyond 29 bits" if shape.extended else "identifier beyond 11 bits")
    return Fields(time_ns, ident, _payload(line, shape))


def _payload(line: bytes, shape: Shape) -> bytes:
    if not shape.payload:
        return b""
    if shape.encoding == "base64":
        return base64.b64decode(line[slice(*shape.payload[0])], validate=True)
    base = 16 if shape.encoding == "hex" else 10
    values = [int(line[slice(*span)], base) for span in shape.payload]
    if max(values) > 255:
        raise BadField("data byte beyond 255")
    return bytes(values)
