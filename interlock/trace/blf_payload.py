"""CAN frames out of runs of BLF objects of one form."""

from dataclasses import dataclass
from typing import ClassVar, Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["Block", "blocks_of"]

LONGEST_NS: Final = 10**18
"""Thirty years: no measurement lasts longer, and a date can still be added."""

_REMOTE: Final = 0x80  # flag of CAN_MESSAGE and CAN_FD_MESSAGE
_REMOTE_64: Final = 0x10  # flag of CAN_FD_MESSAGE_64
_EXTENDED: Final = 0x80000000
_FD_LENGTHS: Final = np.array((*range(9), 12, 16, 20, 24, 32, 48, 64), np.uint8)

Bytes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Frames of one run; `status` says of each whether it is one."""

    FRAME: ClassVar[int] = 0
    REMOTE: ClassVar[int] = 1
    WHY: ClassVar[dict[int, str]] = {
        2: "an object whose time stamp cannot be",
        3: "an object whose identifier cannot be",
        4: "an object whose data length cannot be",
    }

    status: NDArray[np.int8]
    times_ns: NDArray[np.int64]
    flags: NDArray[np.uint32]
    idents: NDArray[np.uint32]
    extended: NDArray[np.bool_]
    lengths: Bytes
    data: Bytes
    channels: NDArray[np.uint16]
    places: NDArray[np.int64]

    def part(self, rows: slice) -> "Block":
        """Some rows of the block."""
        return Block(
            self.status[rows],
            self.times_ns[rows],
            self.flags[rows],
            self.idents[rows],
            self.extended[rows],
            self.lengths[rows],
            self.data[rows],
            self.channels[rows],
            self.places[rows],
        )


@dataclass(frozen=True, slots=True)
class _Layout:
    """Offsets of the fields behind the object header, and their types."""

    channel: tuple[int, str]
    flags: tuple[int, str]
    remote: int  # in the flags
    dlc: int
    valid: int  # number of data bytes present; negative: follows from the length code
    ident: int
    data: int
    width: int


_LAYOUTS: Final = {
    1: _Layout((0, "<u2"), (2, "u1"), _REMOTE, 3, -1, 4, 8, 8),
    86: _Layout((0, "<u2"), (2, "u1"), _REMOTE, 3, -1, 4, 8, 8),
    100: _Layout((0, "<u2"), (2, "u1"), _REMOTE, 3, 14, 4, 20, 64),
    101: _Layout((0, "u1"), (12, "<u4"), _REMOTE_64, 1, 2, 4, 40, 64),
}
"""After the structures that python-can's reader uses for these object types."""


def blocks_of(
    buffer: bytes | bytearray,
    form: tuple[int, int, int, int],
    offsets: NDArray[np.int64],
    places: NDArray[np.int64],
) -> Block | str:
    """The frames of a run of objects of one form, equally far apart, or why none can be taken from it."""
    head, version, size, kind = form
    layout = _LAYOUTS[kind]
    if version not in (1, 2) or head < (32 if version == 1 else 40):
        return "an object with an unknown header"
    if size < head + layout.data + (8 if layout.width == 8 else 0):
        return "an object too short for its type"
    step = int(offsets[1] - offsets[0]) if len(offsets) > 1 else size
    there = min(layout.width, size - head - layout.data)
    objects = np.ndarray((len(offsets),), _record(head, layout, there), buffer, int(offsets[0]), (step,))
    times_ns, flags = _times(objects)
    lengths, bad_length = _lengths(objects, layout)
    ident = objects["ident"].astype(np.uint32)
    extended = (ident & _EXTENDED) != 0
    ident &= np.uint32(0x7FFFFFFF)
    status = np.zeros(len(offsets), np.int8)
    status[bad_length] = 4
    status[(objects["flags"] & layout.remote) != 0] = Block.REMOTE
    status[ident > np.where(extended, 0x1FFFFFFF, 0x7FF)] = 3
    status[times_ns < 0] = 2
    return Block(
        status=status,
        times_ns=times_ns,
        flags=flags,
        idents=ident,
        extended=extended,
        lengths=lengths,
        data=_data(objects, lengths),
        channels=objects["channel"].astype(np.uint16),
        places=places,
    )


def _record(head: int, layout: _Layout, there: int) -> "np.dtype[np.void]":
    """The fields of one object that matter, `there` bytes of data among them."""
    fields: dict[str, tuple[int, object]] = {
        "stamp_flags": (16, "<u4"),
        "stamp": (24, "<u8"),
        "channel": (head + layout.channel[0], layout.channel[1]),
        "flags": (head + layout.flags[0], layout.flags[1]),
        "dlc": (head + layout.dlc, "u1"),
        "valid": (head + max(layout.valid, 0), "u1"),
        "ident": (head + layout.ident, "<u4"),
        "data": (head + layout.data, ("<u8", ()) if there == 8 else ("u1", (there,))),
    }
    names, places = list(fields), list(fields.values())
    return np.dtype(
        {"names": names, "offsets": [at for at, _ in places], "formats": [form for _, form in places]}
    )


def _times(objects: NDArray[np.void]) -> tuple[NDArray[np.int64], NDArray[np.uint32]]:
    """Nanoseconds since the start of the log (-1 where the stamp cannot be), and the flags that give its unit."""
    flags, raw = objects["stamp_flags"].astype(np.uint32), objects["stamp"].astype(np.uint64)
    ten_us, one_ns = flags == 1, flags == 2
    good = (one_ns & (raw <= LONGEST_NS)) | (ten_us & (raw <= LONGEST_NS // 10_000))
    scaled = np.where(ten_us, raw * np.uint64(10_000), raw) if ten_us.any() else raw
    return np.where(good, scaled.view(np.int64), -1), flags


def _lengths(objects: NDArray[np.void], layout: _Layout) -> tuple[Bytes, NDArray[np.bool_]]:
    """Bytes of data in each object, and whether that number cannot be."""
    dlc = objects["dlc"].astype(np.uint8)
    bad: NDArray[np.bool_] = dlc > 15
    if layout.valid < 0:
        return np.minimum(dlc, np.uint8(8)), bad
    stated = _FD_LENGTHS[np.minimum(dlc, 15)]
    return stated, bad | (stated != objects["valid"])


_KEPT: Final = np.array([(1 << 8 * length) - 1 for length in range(9)], np.uint64)


def _data(objects: NDArray[np.void], lengths: Bytes) -> Bytes:
    """Payloads, zero behind their length; bytes that the object lacks are zero, as python-can reads them."""
    there = objects["data"]
    if there.ndim == 1 and int(lengths.max(initial=0)) <= 8:
        return (there & _KEPT[lengths]).astype("<u8").view(np.uint8).reshape(-1, 8)
    width = 8 if int(lengths.max(initial=0)) <= 8 else 64
    data = np.zeros((len(objects), width), np.uint8)
    raw = there.astype("<u8").view(np.uint8).reshape(-1, 8) if there.ndim == 1 else there
    width = min(width, raw.shape[1])
    data[:, :width] = raw[:, :width]
    data[np.arange(data.shape[1]) >= lengths[:, None]] = 0
    return data
