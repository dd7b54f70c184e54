"""Files packed with gzip (RFC 1952): unpacked within bounds, a torn tail up to the tear."""

import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from interlock.errors import LogError

__all__ = ["LARGEST", "STEEPEST", "Unpacked", "is_packed", "unpacked"]

LARGEST: Final = 1 << 31
"""Bytes; no file is unpacked beyond."""

STEEPEST: Final = 300
"""A file that unpacks to more than so many times its size is not a log (text logs reach some 50: measured)."""

_FREE: Final = 1 << 24  # bytes up to which nobody asks for the ratio
_CHUNK: Final = 1 << 16  # packed bytes taken together: at most 1032 times as many come out (RFC 1951)
_GZIP: Final = 16 + zlib.MAX_WBITS


@dataclass(frozen=True, slots=True)
class Unpacked:
    """The content, and what is wrong with it."""

    content: bytes
    doubt: str = ""  # empty: whole, and its check sum right
    anywhere: bool = False  # the doubt concerns all of the content, not only what may follow it


def is_packed(content: bytes) -> bool:
    """Whether a file begins as gzip does."""
    return content[:3] == b"\x1f\x8b\x08"


def unpacked(path: Path, packed: bytes) -> Unpacked:
    """All members of a gzip file together; LogError if it grows beyond all bounds."""
    pieces: list[bytes] = []
    total, at = 0, 0
    while at < len(packed):
        if not is_packed(packed[at : at + 3]):
            return _behind(pieces, packed[at:])
        unpacker = zlib.decompressobj(_GZIP)
        while not unpacker.eof:
            if at >= len(packed):
                return Unpacked(b"".join(pieces), "the packed file ends before its content does")
            source = packed[at : at + _CHUNK]
            at += len(source)
            try:
                piece = unpacker.decompress(source)
            except zlib.error as error:
                return Unpacked(b"".join(pieces), f"the packed file is damaged ({error})", anywhere=True)
            at -= len(unpacker.unused_data)
            pieces.append(piece)
            total += len(piece)
            _check_size(path, total, at)
    return Unpacked(b"".join(pieces))


def _behind(pieces: list[bytes], rest: bytes) -> Unpacked:
    """Zeros may follow the last member as filling; nothing else."""
    doubt = "bytes behind the packed content that belong to nothing" if rest.strip(b"\0") else ""
    return Unpacked(b"".join(pieces), doubt)


def _check_size(path: Path, total: int, taken: int) -> None:
    if total > LARGEST or (total > _FREE and total > STEEPEST * taken):
        raise LogError(
            f"{path}: it unpacks to more than {total} bytes, {total // max(taken, 1)} times as many as were packed: "
            "no log does that; unpack it yourself if it is one"
        )
