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
from interlock.trace.inputs import LogFile
from interlock.trace.lines import LONGEST
from interlock.trace.model import QualityKind, Source
from interlock.trace.packed import Unpacked, is_packed, unpacked
from interlock.trace.parts import PART, Digest, parts_of
from interlock.trace.reading import Reader, Reading, Rejected

__all__ = ["DECODED", "FORMATS", "choose", "read_log"]

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
    "csv": csvlog.read_long,
}
"""Formats that are read in parts if a file is long."""

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
            size = os.fstat(stream.fileno()).st_size  # a buffer no larger than the file: room costs time
            head = stream.read(min(PART, size) or PART)
            digest.update(head)
            name, reading = _read(given, head, stream, digest)
    except OSError as error:
        raise LogError(f"{path}: cannot be opened: {error.strerror}; check path and rights") from error
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


def _read(file: LogFile, head: bytes, stream: BinaryIO, digest: Digest) -> tuple[str, Reading]:
    """Format and reading of a file of which `head` is read already; the rest goes into the digest as well."""
    if file.columns is None and len(head) == PART and not is_packed(head):
        name = choose(file.path, head)
        if name in _LONG:
            return name, _LONG[name](file.path, parts_of(stream, head, digest))
    rest = stream.read()
    digest.update(rest)
    stored = head + rest if rest else head
    content = unpacked(file.path, stored) if is_packed(stored) else Unpacked(stored)
    name = "table" if file.columns is not None else choose(file.path, content.content)
    frames = FORMATS.get(name)
    if frames is None:
        return name, _doubted(DECODED[name](file, content.content), content)
    return name, _doubted(frames(file.path, content.content), content)


def _doubted(reading: Reading, content: Unpacked) -> Reading:
    """The reading with what is wrong with the packing of its file."""
    if not content.doubt:
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
    for name, test in _BINARY.items():
        if test(content):
            return name
    lines = [line[:LONGEST].rstrip(b"\r") for line in islice(content[:_HEAD].split(b"\n"), _LINES)]
    votes = {name: sum(map(test, lines)) for name, test in _LINE_TESTS.items()}
    best = max(votes, key=lambda name: votes[name])
    if votes[best]:
        return best
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
