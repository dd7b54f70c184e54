"""What a file is by its content, before anybody says which source it is of."""

import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from interlock.errors import LogError
from interlock.trace.foreign import refuse_foreign
from interlock.trace.inputs import opened
from interlock.trace.packed import is_packed
from interlock.trace.readers import FORMATS, format_in
from interlock.trace.table_cells import headings

__all__ = ["Recognised", "recognise"]

_HEAD: Final = 1 << 16
_GZIP: Final = 16 + zlib.MAX_WBITS


@dataclass(frozen=True, slots=True)
class Recognised:
    """A file by its first bytes."""

    format: str | None  # by content; None: a table of samples, or nothing that is known
    head: bytes

    @property
    def frames(self) -> bool:
        """Whether it is of a format of frames (an MF4 file may hold frames as well)."""
        return self.format in FORMATS

    def cells(self, line: int, separator: str) -> list[str]:
        """The cells of a line, from 1, without quotes; empty if the first bytes do not hold it."""
        lines = self.head.split(b"\n")
        if not 1 <= line <= len(lines):
            return []
        text = lines[line - 1].rstrip(b"\r").decode("latin-1").removeprefix("ï»¿")
        return headings(text, separator)


def recognise(path: Path) -> Recognised:
    """What the first bytes of a file, unpacked if it is packed, say of it; LogError if it cannot be read."""
    with opened(path) as stream:
        try:
            head = stream.read(_HEAD)
        except OSError as error:
            raise LogError(f"{path}: cannot be read: {error.strerror}; copy it to another disk") from error
    if is_packed(head):
        try:
            head = zlib.decompressobj(_GZIP).decompress(head, _HEAD)
        except zlib.error as error:
            raise LogError(f"{path}: the packed file is damaged ({error}); pack it again") from error
    refuse_foreign(path, head)
    return Recognised(format_in(head), head)
