"""BLF files made byte by byte, after the structures in python-can's reader (general-purpose reference library)."""

import struct
import zlib

START = 1_790_000_000_000_000_000
SYSTEMTIME = (2026, 9, 1, 21, 14, 13, 20, 0)  # 2026-09-21T14:13:20Z, a Monday


def header(
    body: bytes, *, objects: int = 0, size: int | None = None, date: tuple[int, ...] = SYSTEMTIME
) -> bytes:
    """A file header of 144 bytes in front of this body."""
    total = 144 + len(body) if size is None else size
    fields = struct.pack(
        "<4sI8BQQII8H8H", b"LOGG", 144, 5, 0, 0, 0, 2, 6, 8, 1, total, total, objects, 0, *date, *date
    )
    return fields.ljust(144, b"\0") + body


def thing(kind: int, body: bytes, *, stamp: int = 0, flags: int = 2, version: int = 1) -> bytes:
    """One object with its header of version 1 or 2, padded as python-can pads."""
    own = struct.pack("<IHHQ", flags, 0, 0, stamp) + bytes(8 * (version == 2))
    size = 16 + len(own) + len(body)
    head = struct.pack("<4sHHII", b"LOBJ", 16 + len(own), version, size, kind)
    return head + own + body + bytes(size % 4)


def can_message(
    ident: int, payload: bytes, *, flags: int = 0, channel: int = 1, dlc: int | None = None
) -> bytes:
    """The body of a CAN_MESSAGE (type 1)."""
    size = len(payload) if dlc is None else dlc
    return struct.pack("<HBBI8s", channel, flags, size, ident, payload)


def can_message2(ident: int, payload: bytes) -> bytes:
    """The body of a CAN_MESSAGE2 (type 86)."""
    return can_message(ident, payload) + struct.pack("<IBBH", 230, 120, 0, 0)


def fd_message_64(
    ident: int, payload: bytes, *, dlc: int, there: int | None = None, flags: int = 0x1000
) -> bytes:
    """The body of a CAN_FD_MESSAGE_64 (type 101); `there` bytes of the payload are really written."""
    head = struct.pack("<BBBBIIIIIIIHBBI", 1, dlc, len(payload), 0, ident, 0, flags, 0, 0, 0, 0, 0, 0, 0, 0)
    return head + payload[:there]


def container(content: bytes, *, packed: bool = True, claimed: int | None = None) -> bytes:
    """A log container, packed by zlib or not."""
    body = zlib.compress(content) if packed else content
    size = len(content) if claimed is None else claimed
    inner = struct.pack("<H6xI4x", 2 if packed else 0, size) + body
    return struct.pack("<4sHHII", b"LOBJ", 16, 1, 16 + len(inner), 10) + inner + bytes(len(inner) % 4)


def frames(count: int, *, first: int = 0) -> bytes:
    """CAN messages with the numbers from `first`, one a millisecond."""
    return b"".join(
        thing(1, can_message(0x120, n.to_bytes(8, "little")), stamp=n * 10**6)
        for n in range(first, first + count)
    )
