"""Which reader reads a file: what its content says first, its suffix second."""

import hashlib
import os
import tempfile
from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack
from dataclasses import replace
from functools import partial
from io import FileIO, RawIOBase
from itertools import chain, islice
from pathlib import Path
from typing import IO, BinaryIO, Final

from interlock.errors import LogError
from interlock.trace import asc, blf, candump, csvlog, mf4, srzip, table, trc, vcd
from interlock.trace.foreign import BOM, refuse_foreign
from interlock.trace.inputs import LogFile, opened
from interlock.trace.lines import LONGEST, MOST_BUSES, TooManyBusesError
from interlock.trace.meaning import meant
from interlock.trace.memory import disk_room
from interlock.trace.model import QualityKind, Source
from interlock.trace.packed import Source as Bytes
from interlock.trace.packed import Unpacking, is_packed
from interlock.trace.paged import PAGE, Paged
from interlock.trace.parts import PART, parts_of
from interlock.trace.progress import Again, Watched
from interlock.trace.reading import Reader, Reading, Rejected

__all__ = ["DECODED", "FORMATS", "choose", "format_in", "held_in", "read_log"]

FORMATS: Final[Mapping[str, Reader]] = {
    "candump": candump.read,
    "asc": asc.read,
    "csv": csvlog.read,
    "blf": blf.read,
    "trc": trc.read,
}
"""Formats of frames."""

DECODED: Final = ("table", "vcd", "sr", "mf4")
"""Formats that hold signals already decoded; MF4 may hold frames as well."""

_RECORDS: Final[Mapping[str, Callable[[LogFile, Iterable[bytes]], Reading]]] = {
    "table": table.read,
    "vcd": vcd.read,
}
"""Of these the ones that are read in parts."""

_SOUGHT: Final[Mapping[str, Callable[[LogFile, RawIOBase, int], Reading]]] = {
    "blf": lambda file, stream, size: blf.read(file.path, Paged(stream, size)),
    "sr": srzip.read,
    "mf4": mf4.read,
}
"""Formats in which what belongs together does not stand together: read from a stream of so many bytes."""

_LONG: Final[Mapping[str, Callable[[Path, Iterable[bytes]], Reading]]] = {
    "candump": candump.read_long,
    "asc": asc.read_long,
    "csv": csvlog.read_long,
    "trc": trc.read_long,
}
"""Formats that are read in parts, so that a long file needs memory for its frames only."""

_SUFFIXES: Final = {
    ".log": "candump",
    ".asc": "asc",
    ".csv": "csv",
    ".blf": "blf",
    ".trc": "trc",
    ".vcd": "vcd",
    ".sr": "sr",
    ".mf4": "mf4",
}
_BINARY: Final[Mapping[str, Callable[[bytes], bool]]] = {
    "blf": blf.looks_like,
    "mf4": mf4.looks_like,
    "sr": srzip.looks_like,
    "vcd": vcd.looks_like,
}
_LINE_TESTS: Final[Mapping[str, Callable[[bytes], bool]]] = {
    "candump": candump.looks_like,
    "asc": asc.looks_like,
    "csv": csvlog.looks_like,
    "trc": trc.looks_like,
}
_HEAD: Final = 65536  # bytes of a text file that are looked at
_LINES: Final = 60


def read_log(file: Path | LogFile) -> tuple[Reading, Source]:
    """Read a log file of any known format; LogError says what was tried if nobody reads it.

    Of a file that grows meanwhile, what it held at first is read.
    """
    given = LogFile(file) if isinstance(file, Path) else file
    path, digest = given.path, hashlib.sha256()
    with opened(path) as stream:
        source = Watched(path, stream, os.fstat(stream.fileno()).st_size, digest)
        try:
            name, reading = _read(given, source, stream)
            while source.read(PAGE):  # what no reader wanted: the digest is that of the whole file
                pass
            source.end()
            now = os.fstat(stream.fileno()).st_size
        except OSError as error:
            raise LogError(f"{path}: cannot be read: {error.strerror}; copy it to another disk") from error
        except TooManyBusesError as error:
            raise LogError(
                f"{path}: it names more than {MOST_BUSES} buses; give the log of one bench"
            ) from error
        except MemoryError as error:
            raise LogError(f"{path}: it needs more memory than there is; give a shorter log") from error
    reading = meant(given, _whole(path, reading, source, now))
    ledger = reading.ledger
    return reading, Source(
        path=str(path),
        sha256=digest.hexdigest(),
        format=name,
        lines_or_objects=ledger.lines_or_objects,
        frames=ledger.frames,
        non_frames=ledger.non_frames,
        rejected=ledger.rejected,
    )


def _read(file: LogFile, source: Watched, stream: BinaryIO) -> tuple[str, Reading]:
    """Format and reading of a file, which is read to its end: in parts if its format lets it."""
    head = source.read(min(PART, source.size))  # a buffer no larger than the file: room costs time
    content: Watched | Unpacking = source
    if is_packed(head):
        content = Unpacking(file.path, _After(head, source))
        head = content.read(PART)
    name = "table" if file.columns is not None else choose(file.path, head)
    if name in _LONG or name == "vcd":
        head = head.removeprefix(BOM)
    source.begin(again=name in _SOUGHT)
    if name in _LONG:
        return name, _doubted(_LONG[name](file.path, parts_of(content, head)), content)
    if name in _RECORDS:
        return name, _doubted(_RECORDS[name](file, parts_of(content, head)), content)
    with ExitStack() as stack:
        if isinstance(content, Unpacking):
            stream = stack.enter_context(tempfile.TemporaryFile())
            size = _put(file.path, chain([head], iter(partial(content.read, PAGE), b"")), stream)
        else:
            while source.read(PAGE):  # what is read again lies in the system's memory
                pass
            size = source.done
        return name, _doubted(_SOUGHT[name](file, Again(stream, size, source), size), content)


def held_in(path: Path) -> mf4.Held:
    """What an MF4 file, packed or not, holds by its headings; LogError if it cannot be read."""
    with ExitStack() as stack:
        stream: IO[bytes] = stack.enter_context(opened(path))
        head = stream.read(PART)
        if is_packed(head):
            content = Unpacking(path, _After(head, stream))
            stream = stack.enter_context(tempfile.TemporaryFile())
            _put(path, iter(partial(content.read, PAGE), b""), stream)
        raw = stack.enter_context(FileIO(stream.fileno(), closefd=False))
        return mf4.held(path, raw, os.fstat(raw.fileno()).st_size)


def _put(path: Path, pieces: Iterable[bytes], stream: IO[bytes]) -> int:
    """Write the pieces into a stream on disk; LogError if there is no room for them. How many bytes they have."""
    size, most = 0, disk_room()
    for piece in pieces:
        size += len(piece)
        if size > most:
            raise LogError(
                f"{path}: it unpacks to more than {size} bytes, and the folder for temporary files has no room for "
                "them; unpack it yourself where there is room"
            )
        stream.write(piece)
    stream.flush()
    return size


def _whole(path: Path, reading: Reading, source: Watched, now: int) -> Reading:
    """The reading, in doubt at its end if the file grew while it was read; LogError if it was cut."""
    if source.done < source.size or now < source.size:
        raise LogError(
            f"{path}: it was cut or written anew while it was read; copy it first, and give the copy"
        )
    if now == source.size:
        return reading
    why = f"the file grew while it was read, so its recorder had not finished; its first {source.size} bytes are judged"
    return _in_doubt(reading, why, QualityKind.TRUNCATED)


class _After:
    """A source of which some bytes are read already."""

    def __init__(self, head: bytes, rest: Bytes) -> None:
        self._head, self._rest = head, rest

    def read(self, size: int = -1, /) -> bytes:
        """At most so many bytes; none at the end."""
        if not self._head:
            return self._rest.read(size)
        size = len(self._head) if size < 0 else size
        piece, self._head = self._head[:size], self._head[size:]
        return piece


def _doubted(reading: Reading, content: Watched | Unpacking) -> Reading:
    """The reading with what is wrong with the packing of its file."""
    if isinstance(content, Watched) or not content.doubt:
        return reading
    kind = QualityKind.UNREADABLE if content.anywhere else QualityKind.TRUNCATED
    return _in_doubt(reading, content.doubt, kind, from_start=content.anywhere)


def _in_doubt(reading: Reading, why: str, kind: QualityKind, *, from_start: bool = False) -> Reading:
    """The reading with one more doubt, which reaches to its end."""
    rows, last = len(reading.columns.times_ns), int(reading.columns.places[-1])
    doubt = Rejected(last, last, 0, rows, rows, why, kind, until_end=True, from_start=from_start)
    return replace(reading, rejected=(*reading.rejected, doubt))


def choose(path: Path, content: bytes) -> str:
    """The name of the format of this content."""
    if not content:
        raise LogError(f"{path}: the file is empty; give a log with frames in it")
    refuse_foreign(path, content)
    found = format_in(content)
    if found is not None:
        return found
    suffixes = [suffix for suffix in path.suffixes if suffix.lower() != ".gz"]
    suffix = suffixes[-1] if suffixes else ""
    by_suffix = _SUFFIXES.get(suffix.lower())
    if by_suffix is not None:
        return by_suffix
    tried = ", ".join((*FORMATS, *DECODED))
    raise LogError(
        f"{path}: nobody here reads this file: neither its content nor its suffix '{suffix}' is one of {tried}; "
        "export the log in one of these formats"
    )


def format_in(content: bytes) -> str | None:
    """The format that the content itself shows; None: it shows none."""
    content = content.removeprefix(BOM)
    for name, test in _BINARY.items():
        if test(content):
            return name
    lines = [line[:LONGEST].rstrip(b"\r") for line in islice(content[:_HEAD].split(b"\n"), _LINES)]
    votes = {name: sum(map(test, lines)) for name, test in _LINE_TESTS.items()}
    best = max(votes, key=lambda name: votes[name])
    return best if votes[best] else None
