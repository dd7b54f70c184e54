"""The objects in a BLF stream: walked by their own lengths, CAN frames of four kinds taken out in columns."""

import struct
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["ERRORS", "FRAMES", "Pieces", "walk"]

_BASE: Final = struct.Struct("<4sHHII")
SMALLEST: Final = 32  # base header and the first version of the object header
AHEAD: Final = 64  # objects of one form looked for at first; doubled while it pays

FRAMES: Final = {1: "CAN message", 86: "CAN message 2", 100: "CAN FD message", 101: "CAN FD message 64"}
ERRORS: Final = (2, 73, 104)
"""Object types of error frames (CAN_ERROR, CAN_ERROR_EXT, CAN_FD_ERROR_64)."""

Form = tuple[int, int, int, int]  # header size, header version, object size, object type


@dataclass(slots=True, eq=False)
class Pieces:
    """What one stream was found to hold; offsets count from the stream's beginning."""

    runs: list[tuple[Form, NDArray[np.int64]]] = field(default_factory=list)  # offsets of objects of one form
    broken: list[tuple[int, str]] = field(default_factory=list)
    tail: int | None = None  # where an object begins that the stream does not hold whole


def walk(data: bytes | bytearray) -> Pieces:
    """Every object of a stream, each run of objects of one form together; bytes between objects are `broken`."""
    pieces, at, ahead = Pieces(), 0, AHEAD
    end = len(data)
    while at < end:
        here = data.find(b"LOBJ", at, at + 8)
        if here < 0:
            here = _resync(data, at, pieces)
            if here < 0:
                break
        if here + _BASE.size > end:
            pieces.tail = here
            break
        _, head, version, size, kind = _BASE.unpack_from(data, here)
        too_long = here + size > end
        if not SMALLEST <= head <= size or (too_long and data.find(b"LOBJ", here + 4) >= 0):
            pieces.broken.append((here, "an object whose length cannot be"))
            at = here + 4
            continue
        if too_long:
            pieces.tail = here
            break
        count = _alike(data, here, size, ahead)
        ahead = min(count * 2, 1 << 14) if count == ahead else AHEAD
        step = size + size % 4
        offsets = here + step * np.arange(count, dtype=np.int64)
        pieces.runs.append(((head, version, size, kind), offsets))
        at = int(offsets[-1]) + size
    return pieces


def _resync(data: bytes | bytearray, at: int, pieces: Pieces) -> int:
    here = data.find(b"LOBJ", at)
    rest = bytes(data[at:] if here < 0 else data[at:here])
    if rest.strip(b"\0") or len(rest) > 8:
        if here < 0 and len(rest) < 4 and b"LOBJ".startswith(rest.lstrip(b"\0")):
            pieces.tail = at
        else:
            pieces.broken.append((at, "bytes that belong to no object"))
    return here


def _alike(data: bytes | bytearray, here: int, size: int, ahead: int) -> int:
    """How many objects in a row, at most `ahead`, have the same header as the one here."""
    step = size + size % 4
    count = min(ahead, (len(data) - here - size) // step + 1)
    if count <= 1:
        return 1
    same = np.ones(count, np.bool_)
    for at in (here, here + 8):
        words = np.ndarray((count,), "<u8", data, at, (step,))
        same &= words == words[0]
    return int(count if same.all() else np.argmin(same))
