"""The objects of a BLF stream that follow each other unbroken, walked and read by one compiled loop."""

from typing import Any, Final

import numpy as np

from interlock.trace.kernel_compiler import compiled, part
from interlock.trace.word_kernel import KEEP, ZERO

__all__ = ["chain", "spread"]

_SIGN = np.uint32(int.from_bytes(b"LOBJ", "little"))
_SMALLEST, _LARGEST, _FILLING, _BASE = 32, 1 << 26, 4, 16
_LONGEST = np.uint64(10**18)
_TEN_US = np.uint64(10_000)
_FRAME, _REMOTE, _OTHER, _STAMP, _IDENT, _LENGTH, _HEADER, _SHORT = range(8)
_FD_LENGTHS = np.array((*range(9), 12, 16, 20, 24, 32, 48, 64), np.int64)

_CHANNEL, _FLAGS, _CODE, _VALID, _DATA, _WIDTH, _RETURN = range(7)
_FIELDS: Final = np.array(
    [[0, 2, 3, -1, 8, 8, 0x80], [0, 2, 3, 14, 20, 64, 0x80], [0, 12, 1, 2, 40, 64, 0x10]], np.int64
)
"""Of CAN messages, CAN FD messages and those of 64 bytes: where the channel, the flags, the length code, the number of
data bytes there are (-1: it is not told) and the data stand behind the header, how many data bytes there may be, and
the flag of a remote frame; see `blf_payload`."""


@part
def head_at(data: Any, halves: Any, at: int) -> tuple[int, int, int, int, int]:
    """Where an object begins (-1: none does, or none that fits), lengths of its header and of all of it, header version
    and type."""
    end = len(data)
    here, last = at, min(at + _FILLING, end - _BASE)
    while here < last and halves[here] != _SIGN:
        here += 1
    head: Any = np.int64(data[here + 4]) | np.int64(data[here + 5]) << 8
    version: Any = np.int64(data[here + 6]) | np.int64(data[here + 7]) << 8
    size: Any = np.int64(halves[here + 8])
    kind: Any = np.int64(halves[here + 12])
    good = halves[here] == _SIGN and _SMALLEST <= head <= size <= _LARGEST and here + size <= end
    return here if good else -1, head, size, version, kind


@part
def layout_of(kind: int) -> int:
    """The row of `_FIELDS` for a type of object; -1: it holds no frame."""
    if kind in (1, 86):
        return 0
    return kind - 99 if 100 <= kind <= 101 else -1


@part
def first_data(data: Any, words: Any, first: int, there: int) -> Any:
    """Up to eight bytes as a word."""
    if first + 8 <= len(data):
        return words[first] & KEEP[min(there, 8)]
    word = ZERO
    for number in range(min(there, 8)):
        word |= np.uint64(data[first + number]) << np.uint64(8 * number)
    return word


@part
def frame_at(
    data: Any, halves: Any, words: Any, here: int, body: int, layout: int
) -> tuple[int, Any, Any, Any, Any, Any]:
    """Status of a frame, its stamp and the unit of that, identifier, whether it is extended, and the bytes of data."""
    code: Any = np.int64(data[body + _FIELDS[layout, _CODE]])
    valid = _FIELDS[layout, _VALID]
    length = _FD_LENGTHS[min(code, 15)] if valid >= 0 else min(code, 8)
    ident: Any = np.int64(halves[body + 4])
    raw, unit = words[here + 24], halves[here + 16]
    wide = ident >> 31
    ident &= 0x7FFFFFFF
    state, time = _FRAME, np.int64(raw)
    if code > 15 or (valid >= 0 and length != data[body + valid]):
        state = _LENGTH
    if data[body + _FIELDS[layout, _FLAGS]] & _FIELDS[layout, _RETURN] != 0:
        state = _REMOTE
    if ident > (0x1FFFFFFF if wide == 1 else 0x7FF):
        state = _IDENT
    if unit == 1 and raw <= _LONGEST // _TEN_US:
        time *= 10_000
    elif unit != 2 or raw > _LONGEST:
        state = _STAMP
    return state, time, unit, ident, wide, length


@compiled
def chain(data: Any, halves: Any, words: Any, start: int, out: Any) -> int:
    """Read the good object at `start` and those that follow it; how many.

    `halves` and `words` are the data as numbers of four and eight bytes from each place on. `out`: offsets, then the
    arrays of a `Read`. Of a payload the first eight bytes are read; `spans` tells where it stands and how long it is.
    """
    offsets, kinds, status, times_ns, flags, idents, extended, lengths, payload, channels, spans = out
    at, count = start, 0
    while at + _BASE <= len(data) and count < len(offsets):
        here, head, size, version, kind = head_at(data, halves, at)
        if here < 0:
            break
        offsets[count], kinds[count], at = here, kind, here + size
        layout = layout_of(kind)
        body = here + head
        first = body + _FIELDS[max(layout, 0), _DATA]
        if layout < 0:
            status[count] = _OTHER
        elif version < 1 or version > 2 or head < 24 + 8 * version:
            status[count] = _HEADER
        elif at < first + (8 if layout == 0 else 0):
            status[count] = _SHORT
        else:
            state, time, unit, ident, wide, length = frame_at(data, halves, words, here, body, layout)
            there = min(at - first, _FIELDS[layout, _WIDTH], length)
            channel: Any = np.int64(data[body])
            if layout < 2:
                channel |= np.int64(data[body + 1]) << 8
            status[count], times_ns[count], flags[count], idents[count] = state, time, unit, ident
            extended[count], lengths[count], channels[count] = wide == 1, length, channel
            payload[count] = first_data(data, words, first, there)
            spans[count, 0], spans[count, 1] = first, there
        count += 1
    return count


@compiled
def spread(data: Any, spans: Any, block: Any) -> None:
    """The payloads that stand at these places, as far as there are bytes of them."""
    for row in range(len(spans)):
        for number in range(spans[row, 1]):
            block[row, number] = data[spans[row, 0] + number]
