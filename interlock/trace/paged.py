"""A file read where it is looked at, so that one of any length takes little memory."""

from io import RawIOBase
from typing import BinaryIO, Final, Protocol

__all__ = ["Content", "Paged", "is_zero", "place_of"]

PAGE: Final = 1 << 20
"""Bytes that are read together."""


class Content(Protocol):
    """Bytes, in memory or not: what is asked of them where they may be many."""

    def __len__(self) -> int: ...
    def __getitem__(self, span: slice, /) -> bytes: ...


class Paged:
    """The first `size` bytes of a stream, as `bytes` give them; what the stream lacks of them is missing.

    `page` bytes are read together: few, where what is looked at lies far apart.
    """

    def __init__(self, stream: BinaryIO | RawIOBase, size: int, page: int = PAGE) -> None:
        self._stream, self._size, self._together = stream, size, page
        self._page, self._at = b"", 0

    def __len__(self) -> int:
        return self._size

    def __getitem__(self, span: slice, /) -> bytes:
        start, stop, step = span.indices(self._size)
        if step != 1:
            raise ValueError("bytes of a file are read in their order")
        if start < self._at or stop > self._at + len(self._page):
            if stop - start > self._together // 4:
                return self._read(start, stop - start)
            self._page, self._at = self._read(start, min(self._together, self._size - start)), start
        return self._page[start - self._at : max(start, stop) - self._at]

    def _read(self, start: int, size: int) -> bytes:
        self._stream.seek(start)
        return self._stream.read(max(0, size)) or b""


def place_of(sign: bytes, content: Content, start: int, stop: int | None = None) -> int:
    """Where the sign stands first, whole between start and stop; negative: nowhere."""
    end = len(content) if stop is None else min(stop, len(content))
    at = start
    while at < end:
        here = content[at : min(at + PAGE // 8, end)].find(sign)
        if here >= 0:
            return at + here
        if at + PAGE // 8 >= end:
            break
        at += PAGE // 8 - len(sign) + 1
    return -1


def is_zero(content: Content, start: int, stop: int) -> tuple[bool, int]:
    """Whether all bytes of a stretch are zero, and where the first one that is not stands (else the end)."""
    for at in range(start, stop, PAGE // 8):
        piece = content[at : min(at + PAGE // 8, stop)]
        if piece.strip(b"\0"):
            return False, at + len(piece) - len(piece.lstrip(b"\0"))
    return True, stop
