"""CAN frames out of chains of BLF objects."""

from dataclasses import dataclass, replace
from typing import ClassVar, Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.blf_lane import spread
from interlock.trace.blf_objects import FRAMES, Chain, Form, Read

__all__ = ["Block", "block_of"]

_WIDEST: Final = 64
LONGEST_NS: Final = 10**18
"""Thirty years: no measurement lasts longer, and a date can still be added."""

_REMOTE: Final = 0x80  # flag of CAN_MESSAGE and CAN_FD_MESSAGE
_REMOTE_64: Final = 0x10  # flag of CAN_FD_MESSAGE_64
_EXTENDED: Final = 0x80000000
_FD_LENGTHS: Final = np.array((*range(9), 12, 16, 20, 24, 32, 48, 64), np.uint8)

Bytes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Objects of one chain; `status` says of each whether it is a frame."""

    FRAME: ClassVar[int] = 0
    REMOTE: ClassVar[int] = 1
    OTHER: ClassVar[int] = 2  # of a type that holds no frame
    WHY: ClassVar[dict[int, str]] = {
        3: "an object whose time stamp cannot be",
        4: "an object whose identifier cannot be",
        5: "an object whose data length cannot be",
        6: "an object with an unknown header",
        7: "an object too short for its type",
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
    wide: tuple[tuple[NDArray[np.int64], Bytes], ...] = ()
    """Rows with payloads over eight bytes, and these."""

    def only(self, rows: NDArray[np.bool_]) -> "Block":
        """Some rows of the block."""
        moved = np.cumsum(rows) - 1
        wide = tuple((moved[at[rows[at]]], data[rows[at]]) for at, data in self.wide)
        return replace(self, **{name: getattr(self, name)[rows] for name in _COLUMNS}, wide=wide)


_COLUMNS: Final = tuple(name for name in Block.__slots__ if name != "wide")


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


def block_of(buffer: bytes | bytearray, chain: Chain, places: NDArray[np.int64]) -> Block:
    """All objects of a chain, each with its place in the file."""
    if chain.read is not None:
        return _of_read(buffer, chain.read, places)
    if chain.which is None:
        return _of_one_form(buffer, chain.forms[0], chain.offsets, places)
    parts = [
        (rows, _of_one_form(buffer, form, offsets, places[rows])) for form, rows, offsets in chain.by_form()
    ]
    whole, wide = _empty(len(places)), list[tuple[NDArray[np.int64], Bytes]]()
    for rows, part in parts:
        for name in _COLUMNS:
            getattr(whole, name)[rows] = getattr(part, name)
        wide.extend((at if rows is None else rows[at], data) for at, data in part.wide)
    return replace(whole, wide=tuple(wide))


def _of_read(buffer: bytes | bytearray, read: Read, places: NDArray[np.int64]) -> Block:
    """What a compiled loop read already, and payloads over eight bytes."""
    long = np.flatnonzero((read.status == Block.FRAME) & (read.lengths > 8))
    wide = np.zeros((len(long), _WIDEST), np.uint8)
    if len(long):
        spread(buffer, read.spans[long], wide)
    return Block(
        status=read.status,
        times_ns=read.times_ns,
        flags=read.flags,
        idents=read.idents,
        extended=read.extended,
        lengths=read.lengths,
        data=read.words.astype("<u8", copy=False).view(np.uint8).reshape(-1, 8),
        channels=read.channels,
        places=places,
        wide=((long, wide),) if len(long) else (),
    )


def _empty(count: int) -> Block:
    return Block(
        status=np.zeros(count, np.int8),
        times_ns=np.zeros(count, np.int64),
        flags=np.zeros(count, np.uint32),
        idents=np.zeros(count, np.uint32),
        extended=np.zeros(count, np.bool_),
        lengths=np.zeros(count, np.uint8),
        data=np.zeros((count, 8), np.uint8),
        channels=np.zeros(count, np.uint16),
        places=np.zeros(count, np.int64),
    )


def _without_frames(status: int, places: NDArray[np.int64]) -> Block:
    block = _empty(len(places))
    block.status[:] = status
    block.places[:] = places
    return block


def _of_one_form(
    buffer: bytes | bytearray, form: Form, offsets: NDArray[np.int64], places: NDArray[np.int64]
) -> Block:
    head, version, size, kind = form
    if kind not in FRAMES:
        return _without_frames(Block.OTHER, places)
    layout = _LAYOUTS[kind]
    if version not in (1, 2) or head < (32 if version == 1 else 40):
        return _without_frames(6, places)
    if size < head + layout.data + (8 if layout.width == 8 else 0):
        return _without_frames(7, places)
    objects = _objects(buffer, offsets, head, size, layout)
    times_ns, flags = _times(objects)
    lengths, bad_length = _lengths(objects, layout)
    ident = objects["ident"].astype(np.uint32)
    extended = (ident & _EXTENDED) != 0
    ident &= np.uint32(0x7FFFFFFF)
    status = np.zeros(len(offsets), np.int8)
    status[bad_length] = 5
    status[(objects["flags"] & layout.remote) != 0] = Block.REMOTE
    status[ident > np.where(extended, np.uint32(0x1FFFFFFF), np.uint32(0x7FF))] = 4
    status[times_ns < 0] = 3
    data, wide = _data(objects, lengths)
    return Block(
        status=status,
        times_ns=times_ns,
        flags=flags,
        idents=ident,
        extended=extended,
        lengths=lengths,
        data=data,
        channels=objects["channel"].astype(np.uint16),
        places=places,
        wide=wide,
    )


def _objects(
    buffer: bytes | bytearray, offsets: NDArray[np.int64], head: int, size: int, layout: _Layout
) -> NDArray[np.void]:
    """The fields that matter of objects of one form: as they lie if they are equally far apart, else copied."""
    there = min(layout.width, size - head - layout.data)
    record = _record(head, layout, there)
    count, width = len(offsets), record.itemsize
    step = int(offsets[1] - offsets[0]) if count > 1 else size
    if int(offsets[-1] - offsets[0]) == (count - 1) * step and (np.diff(offsets) == step).all():
        return np.ndarray((count,), record, buffer, int(offsets[0]), (step,))
    whole: NDArray[np.void] = np.ndarray((len(buffer) - width + 1,), f"V{width}", buffer, 0, (1,))
    return whole[offsets].view(record)


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


def _data(
    objects: NDArray[np.void], lengths: Bytes
) -> tuple[Bytes, tuple[tuple[NDArray[np.int64], Bytes], ...]]:
    """Payloads, zero behind their length, and those over eight bytes; bytes that the object lacks are zero, as
    python-can reads them."""
    there = objects["data"]
    if there.ndim == 1:
        first = there
    else:
        eight = np.zeros((len(objects), 8), np.uint8)
        eight[:, : there.shape[1]] = there[:, :8]
        first = eight.view("<u8")[:, 0]
    data = (first & _KEPT[np.minimum(lengths, 8)]).astype("<u8").view(np.uint8).reshape(-1, 8)
    long = np.flatnonzero(lengths > 8)
    if not len(long):
        return data, ()
    block = np.zeros((len(long), _WIDEST), np.uint8)
    block[:, :8] = data[long]
    if there.ndim == 2:
        block[:, : there.shape[1]] = there[long]
        block[np.arange(_WIDEST) >= lengths[long, None]] = 0
    return data, ((long, block),)
