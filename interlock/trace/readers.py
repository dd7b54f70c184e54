"""Which reader reads a file: what its content says first, its suffix second."""

import hashlib
from collections.abc import Callable, Mapping
from itertools import islice
from pathlib import Path
from typing import Final

from interlock.errors import LogError
from interlock.trace import asc, blf, candump, csvlog
from interlock.trace.lines import LONGEST
from interlock.trace.model import Source
from interlock.trace.reading import Reader, Reading

__all__ = ["FORMATS", "choose", "read_log"]

FORMATS: Final[Mapping[str, Reader]] = {
    "candump": candump.read,
    "asc": asc.read,
    "csv": csvlog.read,
    "blf": blf.read,
}

_SUFFIXES: Final = {".log": "candump", ".asc": "asc", ".csv": "csv", ".blf": "blf"}
_LINE_TESTS: Final[Mapping[str, Callable[[bytes], bool]]] = {
    "candump": candump.looks_like,
    "asc": asc.looks_like,
    "csv": csvlog.looks_like,
}
_HEAD: Final = 65536  # bytes of a text file that are looked at
_LINES: Final = 60


def read_log(path: Path) -> tuple[Reading, Source]:
    """Read a log file of any known format; LogError says what was tried if nobody reads it."""
    try:
        content = path.read_bytes()
    except OSError as error:
        raise LogError(f"{path}: cannot be opened: {error.strerror}; check path and rights") from error
    name = choose(path, content)
    reading = FORMATS[name](path, content)
    ledger = reading.ledger
    return reading, Source(
        path=str(path),
        sha256=hashlib.sha256(content).hexdigest(),
        format=name,
        lines_or_objects=ledger.lines_or_objects,
        frames=ledger.frames,
        non_frames=ledger.non_frames,
        rejected=ledger.rejected,
    )


def choose(path: Path, content: bytes) -> str:
    """The name of the format of this content."""
    if not content:
        raise LogError(f"{path}: the file is empty; give a log with frames in it")
    if blf.looks_like(content):
        return "blf"
    lines = [line[:LONGEST].rstrip(b"\r") for line in islice(content[:_HEAD].split(b"\n"), _LINES)]
    votes = {name: sum(map(test, lines)) for name, test in _LINE_TESTS.items()}
    best = max(votes, key=lambda name: votes[name])
    if votes[best]:
        return best
    by_suffix = _SUFFIXES.get(path.suffix.lower())
    if by_suffix is not None:
        return by_suffix
    tried = ", ".join(FORMATS)
    raise LogError(
        f"{path}: nobody here reads this file: neither its content nor its suffix '{path.suffix}' is one of {tried}; "
        "export the log in one of these formats"
    )
