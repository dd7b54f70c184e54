"""Parts of a text file cut finer, and the bound on what is kept of a record of samples."""

from collections.abc import Callable, Iterable, Iterator
from typing import Final

from interlock.trace.memory import room

__all__ = ["PIECE", "allowed", "begun", "finer", "too_many"]

PIECE: Final = 1 << 21
"""Bytes that are worked on together."""

MOST_BYTES: Final = 3 << 28
"""Bytes that the kept rows of one record may need in any case while they are judged."""

_ROW: Final = 8  # numbers of eight bytes that a row needs beside its values


def finer(parts: Iterable[bytes]) -> Iterator[bytes]:
    """The same bytes in pieces of about PIECE bytes that end with a line, as the parts do."""
    for part in parts:
        at = 0
        while len(part) - at > PIECE:
            cut = part.rfind(b"\n", at, at + PIECE) + 1 or part.find(b"\n", at) + 1 or len(part)
            yield part[at:cut]
            at = cut
        if at < len(part):
            yield part[at:] if at else part


def begun(
    parts: Iterable[bytes], enough: Callable[[bytes], bool], most: int
) -> tuple[bytes, Iterator[bytes]]:
    """The first parts together, up to the one with what is looked for or to so many bytes; and the rest."""
    rest = iter(parts)
    head: list[bytes] = []
    size = 0
    for part in rest:
        head.append(part)
        size += len(part)
        if enough(part) or size > most:
            break
    return b"".join(head), rest


def allowed(*, named: bool) -> int:
    """Bytes that the kept rows may need: a fixed number if what is kept was named, else as the machine has room."""
    return MOST_BYTES if named else max(MOST_BYTES, room() // 2)


def too_many(rows: int, signals: int, *, most: int = MOST_BYTES) -> bool:
    """Whether so many rows of so many signals need more bytes than these."""
    return rows * 8 * (signals + _ROW) > most
