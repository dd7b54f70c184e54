"""The outer layer of a BLF file: header, log containers, and the streams of objects that they hold."""

import struct
import zlib
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from interlock.errors import LogError

__all__ = ["Broken", "Header", "Stream", "header", "streams"]

_HEADER: Final = struct.Struct("<4sI8BQQII8H8H")
_BASE: Final = struct.Struct("<4sHHII")  # signature, header size, header version, object size, object type
_CONTAINER: Final = struct.Struct("<H6xI4x")  # compression, uncompressed size
CONTAINER: Final = 10
LARGEST: Final = 1 << 26
"""Bytes that one container may hold when uncompressed; writers use some 128 KiB."""


@dataclass(frozen=True, slots=True)
class Header:
    """What the file says about itself."""

    size: int
    file_size: int
    uncompressed_size: int
    objects: int
    start_ns: int | None  # since 1970, UTC; None if no valid date is given


@dataclass(slots=True)
class Stream:
    """Objects that follow each other without a break, and where in the file each stretch of them comes from."""

    data: bytearray = field(default_factory=bytearray)
    offsets: list[int] = field(default_factory=list)  # in `data`
    places: list[int] = field(default_factory=list)  # in the file, one for each offset
    flat: bool = False  # not from a container: bytes follow the file's own positions
    cut: bool = False  # the data go on in a piece that cannot be read


@dataclass(frozen=True, slots=True)
class Broken:
    """A stretch of the file that could not be read, between the streams before and after it."""

    place: int
    why: str
    at_end: bool = False


def header(path: Path, text: bytes) -> Header:
    """The header of a BLF file; LogError if there is none."""
    if len(text) < _HEADER.size or text[:4] != b"LOGG":
        raise LogError(f"{path}: not a BLF file: it does not begin with a whole header; export the log again")
    fields = _HEADER.unpack_from(text)
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


def streams(text: bytes, start: int) -> tuple[list[Stream | Broken], int]:
    """All streams and breaks in the order of the file, and the number of containers that were opened."""
    found: list[Stream | Broken] = []
    containers, at = 0, start
    while at < len(text):
        here = text.find(b"LOBJ", at, at + 8)
        if here < 0:
            here = _resync(text, at, found)
            if here < 0:
                break
        if here + _BASE.size > len(text):
            found.append(Broken(here, "the file ends inside an object", at_end=True))
            break
        _, head, _, size, kind = _BASE.unpack_from(text, here)
        if kind != CONTAINER:
            at = _flat(text, here, size, found)
            continue
        at, opened = _container(text, here, head, size, found)
        containers += opened
    return found, containers


def _resync(text: bytes, at: int, found: list[Stream | Broken]) -> int:
    """Where the next object begins after bytes that are none; negative if there is none."""
    here = text.find(b"LOBJ", at)
    rest = text[at:] if here < 0 else text[at:here]
    if rest.strip(b"\0") or len(rest) > 8:
        first = at + len(rest) - len(rest.lstrip(b"\0"))
        found.append(Broken(first, "bytes that belong to no object", at_end=here < 0))
    return here


def _last(found: list[Stream | Broken], *, flat: bool) -> Stream:
    """The stream to go on with; a new one after a break."""
    if found and isinstance(found[-1], Stream) and found[-1].flat == flat:
        return found[-1]
    fresh = Stream(flat=flat)
    found.append(fresh)
    return fresh


def _flat(text: bytes, here: int, size: int, found: list[Stream | Broken]) -> int:
    """An object outside any container: it is handed on as it stands. Where the next may begin."""
    if size < _BASE.size or here + size > len(text):
        at_end = here + size > len(text) and text.find(b"LOBJ", here + 4) < 0
        found.append(Broken(here, "an object whose length cannot be", at_end=at_end))
        return here + 4
    stream = _last(found, flat=True)
    stream.offsets.append(len(stream.data))
    stream.places.append(here)
    stop = text.find(b"LOBJ", here + size, here + size + 8)
    stop = here + size if stop < 0 else stop
    stream.data += text[here:stop]
    return stop


def _container(text: bytes, here: int, head: int, size: int, found: list[Stream | Broken]) -> tuple[int, int]:
    """Open a container: where the next object may begin, and 1 if it could be opened."""
    body = here + _BASE.size + _CONTAINER.size
    if head != _BASE.size or size < _BASE.size + _CONTAINER.size or body > len(text):
        found.append(Broken(here, "a container whose length cannot be", at_end=body > len(text)))
        return here + 4, 0
    method, claimed = _CONTAINER.unpack_from(text, here + _BASE.size)
    cut = here + size > len(text)
    content = _open(text[body : here + size], method, claimed, cut=cut)
    if isinstance(content, str):
        found.append(Broken(here, content, at_end=cut))
        return _behind(text, here, size), 0
    stream = _last(found, flat=False)
    stream.offsets.append(len(stream.data))
    stream.places.append(here)
    stream.data += content
    if cut:
        found.append(Broken(here, "the file ends inside a container", at_end=True))
        return len(text), 0
    return here + size, 1


def _behind(text: bytes, here: int, size: int) -> int:
    """Where to look for the object after a bad one: behind it if its length leads to one, else right inside it."""
    stop = here + size
    fits = text.find(b"LOBJ", stop, stop + 8) >= 0 or not text[stop : stop + 8].strip(b"\0")
    return stop if fits and stop <= len(text) else here + 4


def _open(body: bytes, method: int, claimed: int, *, cut: bool) -> bytes | str:
    """The content of a container, or why it cannot be read. Of a cut one: as much as there is."""
    if claimed > LARGEST:
        return f"a container that claims to hold {claimed} bytes"
    if method == 0:
        if len(body) != claimed and not cut:
            return "a container that does not hold as many bytes as it says"
        return body
    if method != 2:
        return f"a container packed in an unknown way ({method})"
    unpacker = zlib.decompressobj()
    try:
        content = unpacker.decompress(body, claimed + 1)
    except zlib.error as error:
        return f"a container that cannot be unpacked ({error})"
    if cut and not unpacker.eof:
        return content[:claimed]
    if not unpacker.eof or len(content) != claimed or len(unpacker.unused_data) > 3:
        return "a container that does not hold as many bytes as it says"
    return content
