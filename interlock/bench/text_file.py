"""From the bytes of a bench file to its text."""

import re
from pathlib import Path
from typing import Final

from interlock.errors import BenchError, Problem

__all__ = ["MOST_BYTES", "decode", "place_after", "read_text"]

MOST_BYTES: Final = 500_000
"""A larger file is no bench description; it is refused before it costs time."""


def read_text(path: Path) -> str:
    """The text of the file, without byte order mark; raises BenchError if there is no such text."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:  # ValueError: a path with a zero byte
        why = getattr(error, "strerror", None) or str(error)
        raise _refused(path, f"it cannot be read ({why})", "give the path of a bench description") from error
    if len(data) > MOST_BYTES:
        raise _refused(path, f"it is longer than {MOST_BYTES:,} bytes", "give a bench description, not a log")
    return decode(str(path), data)


def decode(file: str, data: bytes) -> str:
    """The bytes as UTF-8 text, with or without byte order mark; raises BenchError at the first other byte."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        place = place_after(data[: error.start].decode("utf-8-sig", errors="replace"))
        letter = chr(data[error.start])
        hint = f" (in Latin-1 it is '{letter}')" if letter.isprintable() else ""
        why = f"byte 0x{ord(letter):02X} is not UTF-8{hint}"
        raise BenchError([Problem(file, *place, "encoding", why, "save the file as UTF-8")]) from error


def place_after(text: str) -> tuple[int, int]:
    """Line and column, from 1, of what follows the text; lines end as editors end them: LF, CR or both."""
    lines = re.split("\r\n|\r|\n", text)
    return len(lines), len(lines[-1]) + 1


def _refused(path: Path, why: str, instead: str) -> BenchError:
    return BenchError([Problem(str(path), 1, 1, "file", why, instead)])
