"""Plain frames of text logs read character by character: loops that only pay when they are compiled.

Each kernel takes lines by their starts and stops, writes what it surely reads as the grammar does into the arrays of
the table, and says of each line which form it has (a number made of channel, kind of identifier and length), or -1.
The channels that it meets are told by where they stand first: `slots` [most, 2], start and length, zero where unused.
"""

import importlib
from collections.abc import Callable
from contextlib import suppress
from string import hexdigits
from typing import Any, Final, TypeVar

import numpy as np

__all__ = ["COMPILER", "MOST_CHANNELS", "asc", "candump"]

Function = TypeVar("Function", bound=Callable[..., Any])
COMPILER: Any = None
with suppress(ImportError):
    COMPILER = importlib.import_module("numba").njit(cache=True)


def compiled(function: Function) -> Function:
    """The function compiled, if the compiler is installed (the extra `fast`)."""
    if COMPILER is None:
        return function
    made: Function = COMPILER(function)
    return made


MOST_CHANNELS: Final = 16

_HEX: Final = np.array([int(chr(one), 16) if chr(one) in hexdigits else 16 for one in range(256)], np.int64)
"""The value of each hexadecimal digit; 16: a character is none."""

_BLANK, _TAB, _POINT, _HASH, _EQUAL = 32, 9, 46, 35, 61
_OPEN, _CLOSE = 40, 41
_X, _D, _SMALL_X = 88, 100, 120
_R, _T = 82, 84
_LENGTH = (76, 101, 110, 103, 116, 104)
_BITS = (66, 105, 116, 67, 111, 117, 110, 116)
_ID = (73, 68)


@compiled
def after_blanks(text: Any, at: int, stop: int) -> int:
    """Where the first character stands that is no blank."""
    while at < stop and (text[at] == _BLANK or text[at] == _TAB):
        at += 1
    return at


@compiled
def channel_at(text: Any, start: int, stop: int, slots: Any) -> int:
    """The number of the channel that stands there; -1: there are too many."""
    for number in range(len(slots)):
        if slots[number, 1] == 0:
            slots[number, 0], slots[number, 1] = start, stop - start
            return number
        if slots[number, 1] == stop - start:
            same, at = True, start
            other = slots[number, 0]
            while same and at < stop:
                same = text[at] == text[other + at - start]
                at += 1
            if same:
                return number
    return -1


@compiled
def stamp_at(text: Any, at: int, stop: int, most: int, digits: int) -> tuple[int, int]:
    """Nanoseconds of a stamp in seconds with so many digits behind its point, and where it ends; -1: it is none."""
    start, seconds = at, 0
    while at < stop and 48 <= text[at] <= 57 and at - start <= most:
        seconds = 10 * seconds + (text[at] - 48)
        at += 1
    if at == start or at - start > most or at >= stop or text[at] != _POINT:
        return -1, at
    at += 1
    start, part = at, 0
    while at < stop and 48 <= text[at] <= 57 and at - start <= digits:
        part = 10 * part + (text[at] - 48)
        at += 1
    if at - start != digits:
        return -1, at
    for _ in range(9 - digits):
        part *= 10
    return seconds * 1_000_000_000 + part, at


@compiled
def ident_at(text: Any, at: int, stop: int) -> tuple[int, int]:
    """The number that at most nine hexadecimal digits write, and where they end."""
    ident, first = 0, at
    while at < stop and at - first < 9 and _HEX[text[at]] < 16:
        ident = 16 * ident + _HEX[text[at]]
        at += 1
    return ident, at


@compiled
def byte_at(text: Any, at: int, stop: int) -> int:
    """The byte that two hexadecimal digits write; 256 or more: they do not."""
    if at + 1 >= stop or _HEX[text[at + 1]] > 15:
        return 256
    value: int = 16 * _HEX[text[at]] + _HEX[text[at + 1]]
    return value


@compiled
def packed_at(text: Any, at: int, stop: int) -> tuple[int, int, int]:
    """Bytes without blanks between them: as a word, how many (nine: too many), and where they end."""
    word, count = 0, 0
    while count < 9:
        value = byte_at(text, at, stop)
        if value > 255:
            break
        if count < 8:
            word |= value << (8 * count)
        count += 1
        at += 2
    return word, count, at


@compiled
def parted_at(text: Any, at: int, stop: int, count: int) -> tuple[int, int]:
    """So many bytes, each behind blanks: as a word, and where they end; -1: they are not there."""
    word = 0
    for number in range(count):
        start = after_blanks(text, at, stop)
        value = byte_at(text, start, stop)
        if start == at or value > 255:
            return 0, -1
        word |= value << (8 * number)
        at = start + 2
    return word, at


@compiled
def candump(
    text: Any,
    starts: Any,
    stops: Any,
    rows: Any,
    times_ns: Any,
    idents: Any,
    data: Any,
    which: Any,
    slots: Any,
    digits: int,
) -> None:
    """Lines `(stamp) channel identifier#data`, with a letter for the direction behind it or not."""
    for index in range(len(rows)):
        row, stop = rows[index], stops[rows[index]]
        which[index] = -1
        at = after_blanks(text, starts[row], stop)
        if at >= stop or text[at] != _OPEN:
            continue
        time, at = stamp_at(text, at + 1, stop, 10, digits)
        if time < 0 or time > 9_000_000_000 * 1_000_000_000 or at >= stop or text[at] != _CLOSE:
            continue
        start = after_blanks(text, at + 1, stop)
        end = start
        while end < stop and 33 <= text[end] <= 126:
            end += 1
        first = after_blanks(text, end, stop)
        ident, behind = ident_at(text, first, stop)
        wide = behind - first == 8
        if start == at + 1 or end in (start, first) or behind >= stop or text[behind] != _HASH:
            continue
        if not (wide or behind - first == 3) or ident > (0x1FFFFFFF if wide else 0x7FF):
            continue
        word, count, at = packed_at(text, behind + 1, stop)
        behind = after_blanks(text, at, stop)
        if at < behind < stop and (text[behind] == _R or text[behind] == _T):
            behind = after_blanks(text, behind + 1, stop)
        channel = channel_at(text, start, end, slots) if count < 9 and behind == stop else -1
        if channel < 0:
            continue
        times_ns[row], idents[row], data[row] = time, ident, word
        which[index] = (channel * 2 + (0 if wide else 1)) * 9 + count


@compiled
def sign_at(text: Any, at: int, stop: int, sign: tuple[int, ...]) -> int:
    """Where `sign = digits` ends, -1 if it does not stand here behind at least one blank; the digits may be few."""
    start = after_blanks(text, at, stop)
    if start == at or start + len(sign) > stop:
        return -1
    for number in range(len(sign)):
        if text[start + number] != sign[number]:
            return -1
    at = after_blanks(text, start + len(sign), stop)
    if at >= stop or text[at] != _EQUAL:
        return -1
    start = after_blanks(text, at + 1, stop)
    at = start
    while at < stop and 48 <= text[at] <= 57 and at - start < 12:
        at += 1
    return at if at > start else -1


@compiled
def tail_at(text: Any, at: int, stop: int) -> bool:
    """Whether nothing stands here but blanks, or a length, a number of bits and an identifier."""
    if after_blanks(text, at, stop) == stop:
        return True
    at = sign_at(text, at, stop, _LENGTH)
    if at < 0:
        return False
    at = sign_at(text, at, stop, _BITS)
    if at < 0:
        return False
    at = sign_at(text, at, stop, _ID)
    if at < 0:
        return False
    if at < stop and text[at] == _SMALL_X:
        at += 1
    return after_blanks(text, at, stop) == stop


@compiled
def asc(
    text: Any,
    starts: Any,
    stops: Any,
    rows: Any,
    times_ns: Any,
    idents: Any,
    data: Any,
    which: Any,
    slots: Any,
    digits: int,
) -> None:
    """Lines `stamp channel identifier[x] Rx|Tx d length bytes` in base hex."""
    for index in range(len(rows)):
        row, stop = rows[index], stops[rows[index]]
        which[index] = -1
        time, at = stamp_at(text, after_blanks(text, starts[row], stop), stop, 8, digits)
        start = after_blanks(text, at, stop)
        end = start
        while end < stop and 48 <= text[end] <= 57:
            end += 1
        first = after_blanks(text, end, stop)
        if time < 0 or start == at or end in (start, first):
            continue
        ident, at = ident_at(text, first, stop)
        wide = at < stop and (text[at] == _SMALL_X or text[at] == _X)
        if at == first or at - first > 8 or ident > (0x1FFFFFFF if wide else 0x7FF):
            continue
        if wide:
            at += 1
        way = after_blanks(text, at, stop)
        if way == at or way + 2 >= stop or (text[way] != _R and text[way] != _T) or text[way + 1] != _SMALL_X:
            continue
        at = after_blanks(text, way + 2, stop)
        if at == way + 2 or at + 1 >= stop or text[at] != _D:
            continue
        size = after_blanks(text, at + 1, stop)
        if size == at + 1 or size >= stop or not 48 <= text[size] <= 56:
            continue
        count = text[size] - 48
        word, at = parted_at(text, size + 1, stop, count)
        channel = channel_at(text, start, end, slots) if at >= 0 and tail_at(text, at, stop) else -1
        if channel < 0:
            continue
        times_ns[row], idents[row], data[row] = time, ident, word
        which[index] = (channel * 2 + (1 if wide else 0)) * 9 + count
