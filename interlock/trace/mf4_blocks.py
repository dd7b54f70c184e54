"""Whether the blocks of an MF4 file fit together, so that a library that trusts them cannot be led astray.

Layout of the blocks after ASAM MDF 4.1 (associated standard, 2012), from memory; held against files of two writers.
"""

import struct
from collections.abc import Callable, Iterator
from typing import Final

from interlock.trace.paged import Content

__all__ = ["fits_together"]

_HEAD: Final = struct.Struct("<4s4xQQ")  # name, length, number of links
_GROUP: Final = struct.Struct(
    "<QQHHIII"
)  # id, cycles, flags, separator, reserved, bytes of data, of invalidation
_CHANNEL: Final = struct.Struct("<BBBBIII")  # type, sync, data type, bit offset, byte offset, bits, flags
_MOST: Final = 1 << 18  # blocks that are looked at
_LINKS: Final = 1 << 20  # of a block
_VARIABLE, _VIRTUAL = 1, (3, 6)  # types of channels
_LEAST: Final = {
    b"##HD": 6,
    b"##DG": 4,
    b"##CG": 6,
    b"##CN": 8,
    b"##DL": 1,
    b"##HL": 1,
}  # links that a block has


class _Broken(Exception):
    """A block that cannot be, or one whose content nothing vouches for."""


Block = tuple[
    bytes, tuple[int, ...], bytes
]  # name, links, what follows them (of data: its length when unpacked)
_LENGTH: Final = struct.Struct("<Q")


def fits_together(text: Content) -> bool:
    """Whether each block lies within the file, each channel within its record, and check sums vouch for the rest.

    A record of fixed size needs none: no number in it leads anywhere else in the file.
    """
    try:
        _file(text)
    except (_Broken, struct.error, OverflowError, RecursionError):
        return False
    return True


def _file(text: Content) -> None:
    blocks = 0

    def block(at: int, *names: bytes) -> Block:
        nonlocal blocks
        blocks += 1
        if blocks > _MOST or not 64 <= at <= len(text) - _HEAD.size:
            raise _Broken
        name, length, links = _HEAD.unpack(text[at : at + _HEAD.size])
        begin = at + _HEAD.size + 8 * links
        if (
            name not in names
            or not _LEAST.get(name, 0) <= links <= _LINKS
            or not begin - at <= length <= len(text) - at
        ):
            raise _Broken
        data = text[begin : min(begin + 64, at + length)]
        if name in (b"##DT", b"##SD", b"##RD", b"##DV"):
            data = _LENGTH.pack(length - (begin - at))
        if name == b"##DZ":
            data = data[8:16]
        return name, struct.unpack(f"<{links}Q", text[at + _HEAD.size : begin]), data

    if text[:8] != b"MDF     ":
        raise _Broken
    _, (first, *_), _ = block(64, b"##HD")
    for _, links, data in _chain(block, first, b"##DG"):
        loose, needed = _Loose(data[:1] != b"\0"), 0
        for _, group, about in _chain(block, links[1], b"##CG"):
            record = _GROUP.unpack_from(about)
            size = record[5] + record[6] + data[0]
            if record[1] and not size:  # nothing bounds the number of records without a byte
                raise _Broken
            needed += record[1] * size
            _channels(block, group[1], record[5], record[6], loose)
        if _packed_data(block, links[2], loose) < needed:
            raise _Broken


class _Loose:
    """Whether numbers in the records of a data group say where something else lies."""

    def __init__(self, there: bool) -> None:
        self.there = there


def _chain(block: Callable[..., Block], at: int, name: bytes) -> Iterator[Block]:
    seen: set[int] = set()
    while at:
        if at in seen:
            raise _Broken
        seen.add(at)
        found = block(at, name)
        yield found
        at = found[1][0]


def _channels(block: Callable[..., Block], first: int, size: int, more: int, loose: _Loose) -> None:
    for _, links, data in _chain(block, first, b"##CN"):
        kind, _, _, bit, byte, bits, _ = _CHANNEL.unpack_from(data)
        if kind == _VARIABLE:
            loose.there = True
            _packed_data(block, links[5], loose)
        if kind not in _VIRTUAL and (bit > 7 or 8 * byte + bit + bits > 8 * (size + more)):
            raise _Broken
        if links[1]:  # members, or the dimensions of an array
            name, _, _ = block(links[1], b"##CN", b"##CA")
            if name == b"##CA":
                raise _Broken
            _channels(block, links[1], size, more, loose)


def _packed_data(block: Callable[..., Block], at: int, loose: _Loose) -> int:
    """How many bytes of data there are; those that lead elsewhere must be packed, as only packed ones are summed up."""
    if not at:
        return 0
    name, links, data = block(at, b"##DT", b"##SD", b"##DZ", b"##DL", b"##HL", b"##DV", b"##RD")
    if name == b"##HL":
        name, links, data = block(links[0], b"##DL")
    if name != b"##DL":
        if name != b"##DZ" and loose.there:
            raise _Broken
        return int(_LENGTH.unpack_from(data)[0])
    total = 0
    while True:
        for one in links[1:]:
            inner, _, length = block(one, b"##DT", b"##SD", b"##DZ", b"##RD")
            if inner != b"##DZ" and loose.there:
                raise _Broken
            total += int(_LENGTH.unpack_from(length)[0])
        if not links[0]:
            return total
        _, links, _ = block(links[0], b"##DL")
