"""Which reader reads a file: what its content says first, its suffix second."""

import hashlib
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import BinaryIO, Final

from interlock.errors import LogError
from interlock.trace import asc, blf, candump, csvlog, mf4, srzip, table, trc, vcd
from interlock.trace.foreign import refuse_foreign
from interlock.trace.inputs import LogFile
from interlock.trace.lines import LONGEST
from interlock.trace.meaning import meant
from interlock.trace.model import QualityKind, Source
from interlock.trace.packed import Source as Bytes
from interlock.trace.packed import Unpacking, is_packed
from interlock.trace.paged import PAGE, Paged
from interlock.trace.parts import PART, parts_of
from interlock.trace.progress import Watched
from interlock.trace.reading import Reader, Reading, Rejected

__all__ = ["DECODED", "FORMATS", "choose", "format_in", "read_log"]

FORMATS: Final[Mapping[str, Reader]] = {
    "candump": candump.read,
    "asc": asc.read,
    "csv": csvlog.read,
    "blf": blf.read,
    "trc": trc.read,
}
"""Formats of frames."""

DECODED: Final[Mapping[str, Callable[[LogFile, bytes], Reading]]] = {
    "table": table.read,
    "vcd": vcd.read,
    "sr": srzip.read,
    "mf4": mf4.read,
}
"""Formats that hold signals already decoded; MF4 may hold frames as well."""

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
    """Read a log file of any known format; LogError says what was tried if nobody reads it."""
    given = LogFile(file) if isinstance(file, Path) else file
    path, digest = given.path, hashlib.sha256()
    try:
        with path.open("rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            name, reading = _read(given, Watched(path, stream, size, digest), stream)
    except OSError as error:
        raise LogError(f"{path}: cannot be opened: {error.strerror}; check path and rights") from error
    reading = meant(given, reading)
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
    head = source.read(min(PART, source.size) or PART)  # a buffer no larger than the file: room costs time
    content: Watched | Unpacking = source
    if is_packed(head):
        content = Unpacking(file.path, _After(head, source))
        head = content.read(PART)
    name = "table" if file.columns is not None else choose(file.path, head)
    if name in _LONG:
        return name, _doubted(_LONG[name](file.path, parts_of(content, head)), content)
    if name == "blf" and content is source:
        while source.read(
            PAGE
        ):  # all of it goes into the digest; what is read again lies in the system's memory
            pass
        return name, blf.read(file.path, Paged(stream, source.done))
    rest = content.read()
    whole = head + rest if rest else head
    reading = FORMATS[name](file.path, whole) if name in FORMATS else DECODED[name](file, whole)
    return name, _doubted(reading, content)


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
    rows, last = len(reading.columns.times_ns), int(reading.columns.places[-1])
    doubt = Rejected(
        last, last, 0, rows, rows, content.doubt, kind, until_end=True, from_start=content.anywhere
    )
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
    for name, test in _BINARY.items():
        if test(content):
            return name
    lines = [line[:LONGEST].rstrip(b"\r") for line in islice(content[:_HEAD].split(b"\n"), _LINES)]
    votes = {name: sum(map(test, lines)) for name, test in _LINE_TESTS.items()}
    best = max(votes, key=lambda name: votes[name])
    return best if votes[best] else None
