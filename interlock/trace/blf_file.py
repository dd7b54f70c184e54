"""The outer layer of a BLF file: header, log containers, and the stretches of objects that they hold."""

import importlib
import struct
import zlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from interlock.errors import LogError
from interlock.trace.paged import Content, is_zero, place_of

__all__ = ["Broken", "Header", "Stretch", "header", "stretches"]

_HEADER: Final = struct.Struct("<4sI8BQQII8H8H")
_BASE: Final = struct.Struct("<4sHHII")  # signature, header size, header version, object size, object type
_CONTAINER: Final = struct.Struct("<H6xI4x")  # compression, uncompressed size
CONTAINER: Final = 10
LARGEST: Final = 1 << 26
"""Bytes that one container may hold when uncompressed; writers use some 128 KiB."""
LONGEST: Final = LARGEST + (1 << 17)
"""Bytes that one object of a file may have: a container is packed to at most a little more than what it holds."""
FASTER: Any = None
"""A library that unpacks as zlib does, only faster, if one is installed (the extra `fast`)."""
with suppress(ImportError):
    FASTER = importlib.import_module("isal.isal_zlib")
_PIECE: Final = 1 << 18  # bytes of a container that are unpacked together


@dataclass(frozen=True, slots=True)
class Header:
    """What the file says about itself."""

    size: int
    file_size: int
    uncompressed_size: int
    objects: int
    start_ns: int | None  # since 1970, UTC; None if no valid date is given


@dataclass(frozen=True, slots=True)
class Stretch:
    """Objects, or parts of them, that lie together in the file; they go on with the stretch before of the same kind."""

    place: int  # in the file
    data: bytes
    flat: bool = False  # one object, not from a container
    opened: bool = False  # all of a container


@dataclass(frozen=True, slots=True)
class Broken:
    """A stretch of the file that could not be read; the objects before and after it do not belong together."""

    place: int
    why: str
    at_end: bool = False


def header(path: Path, text: Content) -> Header:
    """The header of a BLF file; LogError if there is none."""
    first = text[: _HEADER.size]
    if len(first) < _HEADER.size or first[:4] != b"LOGG":
        raise LogError(f"{path}: not a BLF file: it does not begin with a whole header; export the log again")
    fields = _HEADER.unpack(first)
    size = fields[1]
    if not _HEADER.size <= size <= 4096:
        raise LogError(f"{path}: byte 4: a BLF header of {size} bytes cannot be; the file is damaged")
    return Header(size, fields[10], fields[11], fields[12], _date_ns(fields[14:22]))


def _date_ns(fields: tuple[int, ...]) -> int | None:
    """Nanoseconds since 1970 of a SYSTEMTIME (year, month, weekday, day, hour, minute, second, ms)."""
    year, month, _, day, hour, minute, second, millisecond = fields
    if not 1970 <= year <= 2200 or millisecond > 999:
        return None
    try:
        when = datetime(year, month, day, hour, minute, second, tzinfo=UTC)
    except ValueError:
        return None
    since = when - datetime(1970, 1, 1, tzinfo=UTC)
    return (since.days * 86400 + since.seconds) * 10**9 + millisecond * 10**6


def stretches(text: Content, start: int) -> Iterator[Stretch | Broken]:
    """All stretches and breaks in the order of the file."""
    at = start
    while at < len(text):
        here = place_of(b"LOBJ", text, at, at + 8)
        if here < 0:
            here, broken = _resync(text, at)
            yield from broken
            if here < 0:
                break
        if here + _BASE.size > len(text):
            yield Broken(here, "the file ends inside an object", at_end=True)
            break
        _, head, _, size, kind = _BASE.unpack(text[here : here + _BASE.size])
        at, piece = _container(text, here, head, size) if kind == CONTAINER else _flat(text, here, size)
        yield piece
        if isinstance(piece, Stretch) and not piece.flat and not piece.opened:
            yield Broken(here, "the file ends inside a container", at_end=True)


def _resync(text: Content, at: int) -> tuple[int, list[Broken]]:
    """Where the next object begins after bytes that are none (negative if there is none), and these bytes."""
    here = place_of(b"LOBJ", text, at)
    stop = len(text) if here < 0 else here
    empty, first = is_zero(text, at, stop)
    if empty and stop - at <= 8:
        return here, []
    return here, [Broken(first, "bytes that belong to no object", at_end=here < 0)]


def _flat(text: Content, here: int, size: int) -> tuple[int, Stretch | Broken]:
    """An object outside any container: where the next may begin, and the object as it stands."""
    if not _BASE.size <= size <= LONGEST or here + size > len(text):
        at_end = here + size > len(text) and place_of(b"LOBJ", text, here + 4) < 0
        return here + 4, Broken(here, "an object whose length cannot be", at_end=at_end)
    stop = place_of(b"LOBJ", text, here + size, here + size + 8)
    stop = here + size if stop < 0 else stop
    return stop, Stretch(here, text[here:stop], flat=True)


def _container(text: Content, here: int, head: int, size: int) -> tuple[int, Stretch | Broken]:
    """Open a container: where the next object may begin, and its content."""
    body = here + _BASE.size + _CONTAINER.size
    if head != _BASE.size or size < _BASE.size + _CONTAINER.size or body > len(text):
        return here + 4, Broken(here, "a container whose length cannot be", at_end=body > len(text))
    method, claimed = _CONTAINER.unpack(text[here + _BASE.size : body])
    cut = here + size > len(text)
    content = _open(text, body, here + size, method, claimed)
    if isinstance(content, str):
        return _behind(text, here, size), Broken(here, content, at_end=cut)
    if cut:
        return len(text), Stretch(here, content)
    return here + size, Stretch(here, content, opened=True)


def _behind(text: Content, here: int, size: int) -> int:
    """Where to look for the object after a bad one: behind it if its length leads to one, else right inside it."""
    stop = here + size
    fits = place_of(b"LOBJ", text, stop, stop + 8) >= 0 or not text[stop : stop + 8].strip(b"\0")
    return stop if fits and stop <= len(text) else here + 4


def _open(text: Content, start: int, stop: int, method: int, claimed: int) -> bytes | str:
    """The content of a container, or why it cannot be read. Of a cut one: as much as there is."""
    cut = stop > len(text)
    if claimed > LARGEST:
        return f"a container that claims to hold {claimed} bytes"
    if method == 0:
        if stop - start != claimed and not cut:
            return "a container that does not hold as many bytes as it says"
        return text[start : min(stop, start + LONGEST)]
    if method != 2:
        return f"a container packed in an unknown way ({method})"
    if FASTER is not None:
        content = _unpacked(text, start, stop, claimed, FASTER)
        if isinstance(content, bytes):
            return content
    return _unpacked(text, start, stop, claimed, zlib)  # the usual library says what is wrong


def _unpacked(text: Content, start: int, stop: int, claimed: int, library: Any) -> bytes | str:
    unpacker, pieces, size, at = library.decompressobj(), [], 0, start
    end = min(stop, len(text), start + LONGEST)
    try:
        while at < end and size <= claimed and not unpacker.eof:  # piece by piece: junk fails at once
            piece = text[at : min(at + _PIECE, end)]
            pieces.append(unpacker.decompress(piece, claimed + 1 - size))
            at += len(piece)
            size += len(pieces[-1])
    except library.error as error:
        return f"a container that cannot be unpacked ({error})"
    content = b"".join(pieces)  # one piece is not copied
    if stop > len(text) and not unpacker.eof:
        return content[:claimed]
    behind = len(unpacker.unused_data) + stop - at
    if not unpacker.eof or len(content) != claimed or behind > 3:
        return "a container that does not hold as many bytes as it says"
    return content
