"""The lines of an ASC log in base hex read by a compiled loop: classic and CAN FD frames, remote and error frames."""

from typing import Any

import numpy as np

from interlock.trace.forms import COMMENT, ERROR, FRAME, REMOTE
from interlock.trace.head_kernel import no_heads, remember, remembered, slot_of, told_by, unusual
from interlock.trace.kernel_compiler import U, compiled, part
from interlock.trace.kernels import (
    AHEAD,
    BLANK,
    FD_LENGTH,
    LARGEST_IDENT,
    LARGEST_SHORT,
    MAX_SECONDS,
    TAB,
    after_blanks,
    channel_at,
    ident_at,
    no_stamp,
    parted_at,
    put,
    stamp_at,
)
from interlock.trace.word_kernel import HEX, KEEP, ZERO

__all__ = ["asc"]

_SLASH, _EQUAL = 47, 61
_X, _D, _SMALL_X, _SMALL_R, _UNDER = 88, 100, 120, 114, 95
_R, _T = 82, 84
_LENGTH = (76, 101, 110, 103, 116, 104)
_BITS = (66, 105, 116, 67, 111, 117, 110, 116)
_ID = (73, 68)
_FD = np.uint64(int.from_bytes(b"CANFD", "little"))
_ERROR = np.uint64(int.from_bytes(b"ErrorFra", "little"))
_FRAME = np.uint64(int.from_bytes(b"me", "little"))
_TAIL, _NUMBERS, _ANYTHING = range(3)


@compiled
def sign_at(text: Any, words: Any, at: int, stop: int, sign: tuple[int, ...]) -> int:
    """Where `sign = digits` ends, -1 if it does not stand here behind at least one blank; the digits may be few."""
    start = after_blanks(text, words, at, stop)
    if start == at or start + len(sign) > stop:
        return -1
    for number in range(len(sign)):
        if text[U(start + number)] != sign[number]:
            return -1
    at = after_blanks(text, words, start + len(sign), stop)
    if at >= stop or text[U(at)] != _EQUAL:
        return -1
    start = after_blanks(text, words, at + 1, stop)
    at = start
    while at < stop and 48 <= text[U(at)] <= 57 and at - start < 12:
        at += 1
    return at if at > start else -1


@compiled
def said_at(text: Any, words: Any, at: int, stop: int) -> bool:
    """Whether a length, a number of bits and an identifier stand here, and nothing else."""
    at = sign_at(text, words, at, stop, _LENGTH)
    if at < 0:
        return False
    at = sign_at(text, words, at, stop, _BITS)
    if at < 0:
        return False
    at = sign_at(text, words, at, stop, _ID)
    if at < 0:
        return False
    if at < stop and text[U(at)] == _SMALL_X:
        at += 1
    return after_blanks(text, words, at, stop) == stop


@part
def tail_at(text: Any, words: Any, at: int, stop: int) -> bool:
    """Whether nothing stands here but blanks, or a length, a number of bits and an identifier."""
    return after_blanks(text, words, at, stop) == stop or said_at(text, words, at, stop)


@part
def digits_at(text: Any, at: int, stop: int) -> int:
    """Where the decimal digits end that begin here."""
    while at < stop and 48 <= text[U(at)] <= 57:
        at += 1
    return at


@part
def name_at(text: Any, first: int, stop: int) -> tuple[int, int, int]:
    """An identifier, whether it is an extended one, and where it ends; -1: it is none."""
    ident, at = ident_at(text, first, stop)
    wide = 1 if at < stop and (text[U(at)] == _SMALL_X or text[U(at)] == _X) else 0
    good = 0 < at - first <= 8 and ident <= (LARGEST_IDENT if wide == 1 else LARGEST_SHORT)
    return ident if good else -1, wide, at + wide


@part
def way_at(text: Any, words: Any, at: int, stop: int) -> int:
    """Where Rx or Tx ends that stands here behind blanks, and blanks or the end behind it; -1: it does not."""
    way = after_blanks(text, words, at, stop)
    if (
        way == at
        or way + 2 >= stop
        or (text[U(way)] != _R and text[U(way)] != _T)
        or text[U(way + 1)] != _SMALL_X
    ):
        return -1
    return way + 2 if text[U(way + 2)] == BLANK or text[U(way + 2)] == TAB else -1


@part
def classic(text: Any, words: Any, first: int, stop: int) -> tuple[int, int, int, int]:
    """What stands behind the channel: kind (-1: unclear), identifier, bytes of data, and where they begin."""
    ident, wide, at = name_at(text, first, stop)
    if ident < 0:
        return -1, 0, 0, at
    at = way_at(text, words, at, stop)
    if at < 0:
        return -1, 0, 0, at
    at = after_blanks(text, words, at, stop)
    if at < stop and text[U(at)] == _SMALL_R:
        size = after_blanks(text, words, at + 1, stop)
        at = size + 1 if at + 1 < size < stop and HEX[text[U(size)]] < 16 else at + 1
        return REMOTE + wide, ident, 0, at
    if at + 1 >= stop or text[U(at)] != _D:
        return -1, 0, 0, at
    size = after_blanks(text, words, at + 1, stop)
    if size == at + 1 or size >= stop or not 48 <= text[U(size)] <= 56:
        return -1, 0, 0, at
    count: Any = np.int64(text[U(size)]) - 48
    return FRAME + wide, ident, count, size + 1


@part
def flag_at(text: Any, words: Any, at: int, stop: int) -> int:
    """Where a 0 or 1 ends that stands here behind blanks, with blanks behind it; -1: it does not."""
    start = after_blanks(text, words, at, stop)
    good = start > at and start + 1 < stop and 48 <= text[U(start)] <= 49
    return start + 1 if good and (text[U(start + 1)] == BLANK or text[U(start + 1)] == TAB) else -1


@part
def behind_name(text: Any, words: Any, at: int, stop: int) -> int:
    """Where a name in words ends that stands here behind blanks, if one does."""
    start = after_blanks(text, words, at, stop)
    end = start
    while end < stop and (
        text[U(end)] == _UNDER
        or 65 <= text[U(end)] & 0xDF <= 90
        or (end > start and 48 <= text[U(end)] <= 57)
    ):
        end += 1
    return end if end > start > at else at


@part
def all_hex(text: Any, words: Any, at: int, stop: int) -> bool:
    """Whether nothing but numbers of at most twelve hexadecimal digits stands here, each behind blanks."""
    while True:
        start = after_blanks(text, words, at, stop)
        if start == stop:
            return True
        if start == at:
            return False
        at = start
        while at < stop and at - start < 12 and HEX[text[U(at)]] < 16:
            at += 1
        if at == start:
            return False


@compiled
def flexible(text: Any, words: Any, at: int, stop: int) -> tuple[int, int, int, int]:
    """The same of a CAN FD frame, from the direction on."""
    bad = (-1, 0, 0, at)
    at = way_at(text, words, at, stop)
    if at < 0:
        return bad
    ident, wide, at = name_at(text, after_blanks(text, words, at, stop), stop)
    if ident < 0:
        return bad
    at = flag_at(text, words, behind_name(text, words, at, stop), stop)
    if at < 0:
        return bad
    at = flag_at(text, words, at, stop)
    if at < 0:
        return bad
    start = after_blanks(text, words, at, stop)
    if start >= stop or HEX[text[U(start)]] > 15:
        return bad
    start = after_blanks(text, words, start + 1, stop)
    end = digits_at(text, start, stop)
    if text[U(start - 1)] != BLANK or not 1 <= end - start <= 2:
        return bad
    count: Any = np.int64(text[U(start)]) - 48
    if end - start == 2:
        count = 10 * count + (np.int64(text[U(start + 1)]) - 48)
    if count == 0 or count > 64 or FD_LENGTH[count] == 0:
        return bad
    return FRAME + wide, ident, count, end


@part
def is_remark(text: Any, at: int, stop: int) -> bool:
    """Whether a line is empty or begins with two slashes."""
    return at == stop or (text[U(at)] == _SLASH and text[U(at + 1)] == _SLASH)


@part
def is_error(text: Any, words: Any, first: int, stop: int) -> bool:
    """Whether nothing but the sign of an error frame stands here."""
    return words[U(first + 8)] & KEEP[2] == _FRAME and after_blanks(text, words, first + 10, stop) == stop


@part
def all_of(text: Any, words: Any, at: int, stop: int, rest: int) -> bool:
    """Whether nothing stands behind the data but what may."""
    if rest == _TAIL:
        return tail_at(text, words, at, stop)
    return rest == _ANYTHING or all_hex(text, words, at, stop)


@part
def head_at(
    text: Any, words: Any, at: int, stop: int, slots: Any, names: Any
) -> tuple[int, int, int, int, int, int]:
    """What stands between a stamp and the data: kind (-1: unclear), identifier, bytes of data, channel, where they
    begin, and what may stand behind them."""
    bad = (-1, 0, 0, -1, at, _TAIL)
    start = after_blanks(text, words, at, stop)
    long = words[U(start)] & KEEP[5] == _FD
    if start == at:
        return bad
    at = start + 5 if long else at
    start = after_blanks(text, words, at, stop)
    end = digits_at(text, start, stop)
    first = after_blanks(text, words, end, stop)
    if start == at or end in (start, first):
        return bad
    if words[U(first)] == _ERROR:
        return (ERROR, 0, 0, 0, first, _ANYTHING) if not long and is_error(text, words, first, stop) else bad
    if long:
        kind, ident, count, at = flexible(text, words, end, stop)
    else:
        kind, ident, count, at = classic(text, words, first, stop)
    channel = channel_at(text, words, start, end, slots, names) if kind >= 0 else -1
    return kind, ident, count, channel, at, _NUMBERS if long else _TAIL


@compiled
def asc(text: Any, words: Any, lines: Any, out: Any, channels: Any) -> None:
    """Stamped lines of frames and error frames, empty lines, and remarks."""
    starts, stops, rows = lines
    slots, names = channels
    last, heads, sizes = no_stamp(), no_heads(), (0, 0)
    for index in range(len(rows)):
        row, stop = rows[index], stops[rows[index]]
        if stop + AHEAD > len(text):
            continue
        if is_remark(text, starts[row], stop):
            put(out, row, 0, 0, ZERO, (0, COMMENT, 0), (-1, 0))
            continue
        at = after_blanks(text, words, starts[row], stop)
        seconds, fraction, at, last = stamp_at(text, words, at, stop, 9, last)
        if min(seconds, fraction) < 0 or seconds > MAX_SECONDS:
            continue
        first, rest, slot = at, _TAIL, slot_of(words, at, sizes[0])
        known = remembered(words, at, heads, slot)
        if known > 0:
            kind, ident, count, channel = told_by(heads, slot)
            at, sizes = at + known, (sizes[0], 0)
        else:
            kind, ident, count, channel, at, rest = head_at(text, words, at, stop, slots, names)
            if kind < 0 or channel < 0:
                continue
            if kind <= FRAME + 1 and rest == _TAIL:
                remember(words, first, at - first, heads, (kind, ident, count, channel))
                sizes = unusual(sizes, at - first)
        word, end = parted_at(text, words, at, stop, count)
        if end < 0 or not all_of(text, words, end, stop, rest):
            continue
        time_ns = seconds * 1_000_000_000 + fraction
        put(out, row, time_ns, ident, word, (channel, kind, count), (last[4], at))
