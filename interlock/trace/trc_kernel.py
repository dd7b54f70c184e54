"""The frame lines of a TRC log of any order of columns, and its remarks, read by a compiled loop."""

from typing import Any

import numpy as np

from interlock.trace.forms import COMMENT, FRAME, REMOTE
from interlock.trace.kernels import (
    AHEAD,
    FD_LENGTH,
    LARGEST_IDENT,
    LARGEST_SHORT,
    after_blanks,
    byte_at,
    channel_at,
    code_of,
    compiled,
    ident_at,
    no_stamp,
    part,
    parted_at,
    stamp_at,
)

__all__ = ["trc"]

_SEMICOLON, _MINUS, _BRACKET = 59, 45, 41
_N, _O, _T, _B, _I, _WAY, _RESERVED, _CODE, _SIZE = (ord(letter) for letter in "NOTBIdRLl")
_F, _D, _E, _R, _T_, _X = (ord(letter) for letter in "FDERTx")
_DATA, _FD, _REMOTE = 1, 2, 3
_TIME, _KIND, _IDENT, _STATED, _BYTES, _WIDE, _BUS, _BUS_END, _DIGITS, _REST = range(10)
_PLACE = np.array(
    [{_O: 0, _T: 1, _I: 2, _CODE: 3, _SIZE: 4}.get(letter, 9) for letter in range(128)], np.int64
)
"""Where the value of each column goes; the last place is for those that are not wanted."""
_CODES = np.array((*range(9), 12, 16, 20, 24, 32, 48, 64), np.int64)


@part
def whole_at(text: Any, at: int, stop: int, most: int) -> tuple[int, int]:
    """A whole number of at most so many digits, and where it ends; -1: it is none."""
    start, value = at, 0
    while at < stop and 48 <= text[at] <= 57 and at - start <= most:
        value = 10 * value + (text[at] - 48)
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
    if column in (_N, _CODE, _SIZE):
        return whole_at(text, at, stop, digits)
    if column == _T:
        return (type_of(text[at], text[at + 1]) if at + 1 < stop else 0) - 1, at + 2
    if text[at] == _MINUS and column in (_B, _RESERVED):
        return 0, at + 1
    if column == _B:
        return whole_at(text, at, stop, 2)
    if column == _RESERVED:
        value = byte_at(text, at, stop)
        return value if value < 256 else -1, at + 2
    good = column == _WAY and at + 1 < stop and (text[at] == _R or text[at] == _T) and text[at + 1] == _X
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
def columns_at(
    text: Any, words: Any, at: int, stop: int, columns: Any, bracket: bool, found: Any, last: Any
) -> tuple[int, Any]:
    """Write what stands in the columns but the last into `found`; where they end (-1: one is spoilt), the memory."""
    found[:] = -1
    for number in range(len(columns)):
        start = after_blanks(text, words, at, stop)
        if (number > 0 and start == at) or start >= stop:
            return -1, last
        column = columns[number]
        if column == _O:
            value, found[_DIGITS], at, last = stamp_in_ms(text, words, start, stop, last)
        else:
            value, at = one_of(text, start, stop, column, 12 if column == _N else 2)
        if value < 0:
            return -1, last
        found[_PLACE[column]] = value
        if column == _N and bracket:
            if at >= stop or text[at] != _BRACKET:
                return -1, last
            at += 1
        elif column == _B:
            found[_BUS], found[_BUS_END] = start, at
        elif column == _I:
            found[_WIDE] = 1 if at - start > 4 else 0
    return at, last


@compiled
def trc(
    text: Any, words: Any, lines: Any, out: Any, channels: Any, most: Any, columns: Any, bracket: bool
) -> None:
    """Lines with these columns but the last one, the data; `bracket`: one stands behind the number of the line."""
    starts, stops, rows = lines
    times_ns, idents, data, which, tails = out
    slots, names = channels
    last = no_stamp()
    found = np.empty(10, np.int64)
    for index in range(len(rows)):
        row, stop = rows[index], stops[rows[index]]
        which[index] = 0
        if stop + AHEAD > len(text):
            continue
        at = after_blanks(text, words, starts[row], stop)
        if at == stop or text[at] == _SEMICOLON:
            which[index] = code_of(0, COMMENT, 0)
            continue
        at, last = columns_at(text, words, at, stop, columns, bracket, found, last)
        wide, kind = found[_WIDE], found[_KIND] + 1 if found[_KIND] >= 0 else _DATA
        count = length_of(kind, found[_STATED], found[_BYTES])
        if at < 0 or count < 0 or found[_IDENT] > (LARGEST_IDENT if wide == 1 else LARGEST_SHORT):
            continue
        tails[index] = at
        word, at = parted_at(text, words, at, stop, count)
        if at < 0 or after_blanks(text, words, at, stop) != stop:
            continue
        channel = 0
        if found[_BUS] >= 0:
            channel = channel_at(text, words, found[_BUS], found[_BUS_END], slots, names)
        if channel < 0:
            continue
        most[0] = max(most[0], found[_DIGITS])
        times_ns[row], idents[row], data[row] = found[_TIME], found[_IDENT], word
        which[index] = code_of(channel, (REMOTE if kind == _REMOTE else FRAME) + wide, count)
