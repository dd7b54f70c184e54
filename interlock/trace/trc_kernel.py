"""The frame lines of a TRC log of any order of columns, and its remarks, read by a compiled loop."""

from typing import Any

import numpy as np

from interlock.trace.forms import COMMENT, FRAME, REMOTE
from interlock.trace.head_kernel import no_heads, remember, remembered, slot_of, told_by, unusual
from interlock.trace.kernel_compiler import U, compiled, part
from interlock.trace.kernels import (
    AHEAD,
    FD_LENGTH,
    LARGEST_IDENT,
    LARGEST_SHORT,
    after_blanks,
    byte_at,
    channel_at,
    ident_at,
    no_stamp,
    parted_at,
    put,
    stamp_at,
)
from interlock.trace.word_kernel import ZERO

__all__ = ["trc"]

_SEMICOLON, _MINUS, _BRACKET = 59, 45, 41
_T, _B, _I, _WAY, _RESERVED, _CODE, _SIZE = (ord(letter) for letter in "TBIdRLl")
_F, _D, _E, _R, _T_, _X = (ord(letter) for letter in "FDERTx")
_DATA, _FD, _REMOTE = 1, 2, 3
_KIND, _IDENT, _STATED, _BYTES, _WIDE, _BUS, _BUS_END, _REST = range(8)
_PLACE = np.array([{_T: 0, _I: 1, _CODE: 2, _SIZE: 3}.get(letter, 7) for letter in range(128)], np.int64)
"""Where the value of each column goes; the last place is for those that are not wanted."""
_CODES = np.array((*range(9), 12, 16, 20, 24, 32, 48, 64), np.int64)


@part
def whole_at(text: Any, at: int, stop: int, most: int) -> tuple[int, int]:
    """A whole number of at most so many digits, and where it ends; -1: it is none."""
    start, value = at, 0
    while at < stop and 48 <= text[U(at)] <= 57 and at - start <= most:
        value = 10 * value + (text[U(at)] - 48)
        at += 1
    return value if 0 < at - start <= most else -1, at


@part
def type_of(first: int, second: int) -> int:
    """What two letters say of a frame: with data, flexible with data, remote, or (0) nothing known here."""
    if first == _D and second == _T_:
        return _DATA
    if (first == _F and (second in (_D, _B, _E))) or (first == _B and second == _I):
        return _FD
    return _REMOTE if first == _R and second == _R else 0


@part
def length_of(kind: int, stated: int, size: int) -> int:
    """How many bytes of data a frame must have by its length in bytes, or by its code; -1: the grammar decides."""
    if kind == _REMOTE:
        return 0
    if size >= 0:
        return size if size <= 64 and FD_LENGTH[size] == 1 else -1
    if kind == _FD:
        return _CODES[stated] if 0 <= stated < len(_CODES) else -1
    return stated if 0 <= stated <= 8 else -1


@part
def one_of(text: Any, at: int, stop: int, column: int, digits: int) -> tuple[int, int]:
    """The value in a column that needs no memory, and where it ends; -1: it is none."""
    if column == _I:
        ident, end = ident_at(text, at, stop)
        return ident if 4 <= end - at <= 8 else -1, end
    if column in (_CODE, _SIZE):
        return whole_at(text, at, stop, digits)
    if column == _T:
        return (type_of(text[U(at)], text[U(at + 1)]) if at + 1 < stop else 0) - 1, at + 2
    if text[U(at)] == _MINUS and column in (_B, _RESERVED):
        return 0, at + 1
    if column == _B:
        return whole_at(text, at, stop, 2)
    if column == _RESERVED:
        value = byte_at(text, at, stop)
        return value if value < 256 else -1, at + 2
    good = (
        column == _WAY
        and at + 1 < stop
        and (text[U(at)] == _R or text[U(at)] == _T)
        and text[U(at + 1)] == _X
    )
    return 0 if good else -1, at + 2


@part
def stamp_in_ms(text: Any, words: Any, start: int, stop: int, last: Any) -> tuple[int, int, int, Any]:
    """Nanoseconds of a stamp in ms (-1: it is none), its digits behind the point, where it ends, and the memory."""
    time, fraction, at, last = stamp_at(text, words, start, stop, 6, last)
    if time >= 0:
        return time * 1_000_000 + fraction if fraction >= 0 else -1, last[4], at, last
    time, at = whole_at(text, start, stop, 12)
    return time * 1_000_000, 0, at, last


@part
def columns_at(text: Any, words: Any, at: int, stop: int, columns: Any, found: Any) -> int:
    """Write what stands in these columns into `found`; where they end (-1: one is spoilt)."""
    found[:] = -1
    for column in columns:
        start = after_blanks(text, words, at, stop)
        if start == at or start >= stop:
            return -1
        value, at = one_of(text, start, stop, column, 2)
        if value < 0:
            return -1
        found[_PLACE[column]] = value
        if column == _B:
            found[_BUS], found[_BUS_END] = start, at
        elif column == _I:
            found[_WIDE] = 1 if at - start > 4 else 0
    return at


@part
def head_at(
    text: Any, words: Any, at: int, stop: int, columns: Any, found: Any, slots: Any, names: Any
) -> tuple[int, int, int, int, int]:
    """What stands between number and stamp and the data: kind (-1: unclear), identifier, bytes of data, channel, and
    where the data begin."""
    at = columns_at(text, words, at, stop, columns, found)
    wide, kind = found[_WIDE], found[_KIND] + 1 if found[_KIND] >= 0 else _DATA
    count = length_of(kind, found[_STATED], found[_BYTES])
    if at < 0 or count < 0 or found[_IDENT] > (LARGEST_IDENT if wide == 1 else LARGEST_SHORT):
        return -1, 0, 0, -1, at
    channel = 0
    if found[_BUS] >= 0:
        channel = channel_at(text, words, found[_BUS], found[_BUS_END], slots, names)
    return (REMOTE if kind == _REMOTE else FRAME) + wide, found[_IDENT], count, channel, at


@compiled
def trc(text: Any, words: Any, lines: Any, out: Any, channels: Any, columns: Any, bracket: bool) -> None:
    """Lines of a number, a stamp, these columns and the data; `bracket`: one stands behind the number."""
    starts, stops, rows = lines
    slots, names = channels
    last, heads, sizes = no_stamp(), no_heads(), (0, 0)
    found = np.empty(8, np.int64)
    for index in range(len(rows)):
        row, stop = rows[index], stops[rows[index]]
        if stop + AHEAD > len(text):
            continue
        at = after_blanks(text, words, starts[row], stop)
        if at == stop or text[U(at)] == _SEMICOLON:
            put(out, row, 0, 0, ZERO, (0, COMMENT, 0), (-1, 0))
            continue
        number, at = whole_at(text, at, stop, 12)
        if bracket:
            if at >= stop or text[U(at)] != _BRACKET:
                continue
            at += 1
        start = after_blanks(text, words, at, stop)
        if number < 0 or start == at or start >= stop:
            continue
        time_ns, digits, at, last = stamp_in_ms(text, words, start, stop, last)
        if time_ns < 0:
            continue
        first = at
        known = remembered(words, first, heads, slot_of(words, first, sizes[0]))
        if known > 0:
            kind, ident, count, channel = told_by(heads, slot_of(words, first, sizes[0]))
            at, sizes = first + known, (sizes[0], 0)
        else:
            kind, ident, count, channel, at = head_at(text, words, first, stop, columns, found, slots, names)
            if kind < 0 or channel < 0:
                continue
            remember(words, first, at - first, heads, (kind, ident, count, channel))
            sizes = unusual(sizes, at - first)
        word, end = parted_at(text, words, at, stop, count)
        if end < 0 or after_blanks(text, words, end, stop) != stop:
            continue
        put(out, row, time_ns, ident, word, (channel, kind, count), (digits, at))
