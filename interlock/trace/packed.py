"""Files packed with gzip (RFC 1952): unpacked as they are read, within bounds, a torn tail up to the tear."""

import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Final, Protocol

from interlock.errors import LogError

__all__ = ["STEEPEST", "Unpacking", "is_packed"]

STEEPEST: Final = 300
"""A file that unpacks to more than so many times its size is not a log (text logs reach some 50: measured)."""

_FREE: Final = 1 << 24  # bytes up to which nobody asks for the ratio
_CHUNK: Final = 1 << 16  # packed bytes taken together: at most 1032 times as many come out (RFC 1951)
_GZIP: Final = 16 + zlib.MAX_WBITS


class Source(Protocol):
    """Something that is read from its beginning to its end."""

    def read(self, size: int = -1, /) -> bytes:
        """At most so many bytes (negative: all); none at the end."""


def is_packed(content: bytes) -> bool:
    """Whether a file begins as gzip does."""
    return content[:3] == b"\x1f\x8b\x08"


class Unpacking:
    """The content of a gzip file, read from its beginning to its end; afterwards, what is wrong with it.

    `doubt`: empty if it is whole and its check sum right; `anywhere`: the doubt concerns all of the content, not only
    what may follow it. LogError if it grows beyond what any log does.
    """

    def __init__(self, path: Path, packed: Source) -> None:
        self.doubt, self.anywhere = "", False
        self._path, self._packed = path, packed
        self._pieces = self._unpack()
        self._ahead = b""

    def read(self, size: int = -1, /) -> bytes:
        """As many bytes of the content, unless it ends before; all of them, however many, if negative."""
        found, total = [self._ahead], len(self._ahead)
        while size < 0 or total < size:
            piece = next(self._pieces, None)
            if piece is None:
                break
            found.append(piece)
            total += len(piece)
        whole = b"".join(found)
        if size < 0:
            size = total
        self._ahead = whole[size:]
        return whole[:size]

    def _unpack(self) -> Iterator[bytes]:
        """Piece by piece the content of all members."""
        total, taken, waiting = 0, 0, self._packed.read(_CHUNK)
        while waiting:
            if len(waiting) < 3:
                waiting += self._packed.read(_CHUNK)
            if not is_packed(waiting):
                self._look_behind(waiting)
                return
            unpacker = zlib.decompressobj(_GZIP)
            while not unpacker.eof:
                if not waiting:
                    self.doubt = "the packed file ends before its content does"
                    return
                try:
                    piece = unpacker.decompress(waiting)
                except zlib.error as error:
                    self.doubt, self.anywhere = f"the packed file is damaged ({error})", True
                    return
                taken += len(waiting) - len(unpacker.unused_data)
                waiting = unpacker.unused_data or self._packed.read(_CHUNK)
                total += len(piece)
                _check_size(self._path, total, taken)
                yield piece

    def _look_behind(self, rest: bytes) -> None:
        """Zeros may follow the last member as filling; nothing else."""
        while rest:
            if rest.strip(b"\0"):
                self.doubt = "bytes behind the packed content that belong to nothing"
                return
            rest = self._packed.read(_CHUNK)


def _check_size(path: Path, total: int, taken: int) -> None:
    if total > _FREE and total > STEEPEST * taken:
        raise LogError(
            f"{path}: it unpacks to more than {total} bytes, {total // max(taken, 1)} times as many as were packed: "
            "no log does that; unpack it yourself if it is one"
        )
