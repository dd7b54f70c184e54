"""The lines of a candump log read by a compiled loop: data, remote and error frames, classic or of CAN FD."""

from typing import Any

import numpy as np

from interlock.trace.forms import COMMENT, ERROR, FRAME, REMOTE
from interlock.trace.head_kernel import no_heads, remember, remembered, slot_of, told_by, unusual
from interlock.trace.kernel_compiler import U, compiled, part
from interlock.trace.kernels import (
    AHEAD,
    BLANK,
    FD_LENGTH,
    LARGEST_SHORT,
    MAX_SECONDS,
    TAB,
    after_blanks,
    before_blanks,
    channel_at,
    no_stamp,
    put,
    stamp_at,
)
from interlock.trace.word_kernel import HEX, ZERO, hex_word, short_hex, swapped

__all__ = ["candump"]

_OPEN, _CLOSE, _HASH = 40, 41, 35
_R, _T, _SMALL = 82, 84, 32
_LARGEST_ERROR = 0x3FFFFFFF  # an identifier with the flag of an error frame
_FILLED, _40, _32 = np.uint64(0x3030303030), np.uint64(40), np.uint64(32)


@part
def _marked(character: int) -> bool:
    """Whether this is a letter for the direction."""
    return character | _SMALL in (_R | _SMALL, _T | _SMALL)


@part
def _end(text: Any, at: int, stop: int) -> int:
    """Where a line ends before blanks, a letter for the direction, and blanks before that."""
    stop = before_blanks(text, at, stop)
    if (
        stop - 1 > at
        and _marked(text[U(stop - 1)])
        and (text[U(stop - 2)] == BLANK or text[U(stop - 2)] == TAB)
    ):
        stop = before_blanks(text, at, stop - 1)
    return stop


@part
def _packed(words: Any, at: int, count: int) -> tuple[Any, bool]:
    """So many bytes without blanks between them, the first eight as a word, and whether they stand there."""
    low, wrong = short_hex(words[U(at)], min(2 * count, 8))
    if count <= 4:
        return low, wrong == ZERO
    high, more = short_hex(words[U(at + 8)], min(2 * count - 8, 8))
    wrong |= more
    for place in range(16, 2 * count, 8):
        _, more = short_hex(words[U(at + place)], min(2 * count - place, 8))
        wrong |= more
    return low | high << _32, wrong == ZERO


@part
def _content(text: Any, words: Any, at: int, stop: int) -> tuple[int, int, int, Any]:
    """What stands behind the first hash: kind, bytes of data and where they begin, and the first eight; -1: unclear."""
    if at < stop and text[U(at)] | _SMALL == _R | _SMALL:
        good = stop == at + 1 or (stop == at + 2 and HEX[text[U(at + 1)]] < 16)
        return REMOTE if good else -1, 0, at, ZERO
    long = at < stop and text[U(at)] == _HASH
    if long:
        if at + 1 >= stop or HEX[text[U(at + 1)]] > 15:
            return -1, 0, at, ZERO
        at += 2
    count = (stop - at) >> 1
    if (stop - at) & 1 or count > 64 or (count > 8 and not long) or FD_LENGTH[count] == 0:
        return -1, 0, at, ZERO
    word, good = _packed(words, at, count)
    return FRAME if good else -1, count, at, word


@part
def ident_before_hash(text: Any, words: Any, first: int, stop: int) -> tuple[int, int, bool]:
    """Whether an identifier before a hash is an extended one, what it is, and whether it stands here."""
    wide = 0
    word = words[U(first)]
    if text[U(first + 3)] == _HASH:
        word = word << _40 | _FILLED
    elif first + 9 <= stop and text[U(first + 8)] == _HASH:
        wide = 1
    else:
        return 0, 0, False
    value, wrong = hex_word(word)
    ident = swapped(value)
    return wide, ident, wrong == ZERO and ident <= (_LARGEST_ERROR if wide else LARGEST_SHORT)


@part
def head_at(text: Any, words: Any, at: int, stop: int, slots: Any, names: Any) -> tuple[int, int, int, int]:
    """What stands between a stamp and the data: whether the identifier is extended, the identifier, the channel (-1:
    one of them is unclear), and where the data begin."""
    start = after_blanks(text, words, at, stop)
    end = start
    while end < stop and 33 <= text[U(end)] <= 126:
        end += 1
    first = after_blanks(text, words, end, stop)
    if start == at or end in (start, first) or first + 4 > stop:
        return 0, 0, -1, at
    wide, ident, good = ident_before_hash(text, words, first, stop)
    channel = channel_at(text, words, start, end, slots, names) if good else -1
    return wide, ident, channel, first + 4 + 5 * wide


@compiled
def candump(text: Any, words: Any, lines: Any, out: Any, channels: Any) -> None:
    """Lines `(stamp) channel identifier#data`, with a letter for the direction behind it or not, and empty lines."""
    starts, stops, rows = lines
    slots, names = channels
    last, heads, sizes = no_stamp(), no_heads(), (0, 0)
    for index in range(len(rows)):
        row, stop = rows[index], stops[rows[index]]
        if stop + AHEAD > len(text):
            continue
        at = after_blanks(text, words, starts[row], stop)
        if at == stop:
            put(out, row, 0, 0, ZERO, (0, COMMENT, 0), (-1, 0))  # its line end follows, which is no bracket
        if text[U(at)] != _OPEN:
            continue
        seconds, fraction, at, last = stamp_at(text, words, at + 1, stop, 9, last)
        if min(seconds, fraction) < 0 or seconds > MAX_SECONDS or at >= stop or text[U(at)] != _CLOSE:
            continue
        first, slot = at + 1, slot_of(words, at + 1, sizes[0])
        known = remembered(words, first, heads, slot)
        if known > 0:
            wide, ident, channel, _ = told_by(heads, slot)
            size, sizes = known, (sizes[0], 0)
        else:
            wide, ident, channel, at = head_at(text, words, first, stop, slots, names)
            if channel < 0:
                continue
            size = at - first
            remember(words, first, size, heads, (wide, ident, channel, 0))
            sizes = unusual(sizes, size)
        at = first + size
        kind, count, at, word = _content(text, words, at, _end(text, at, stop))
        if kind < 0:
            continue
        kind += wide
        if ident >> 29:
            if count > 8:
                continue
            kind, ident = ERROR, ident & 0x0FFFFFFF
        time_ns = seconds * 1_000_000_000 + fraction
        put(out, row, time_ns, ident, word, (channel, kind, count), (last[4], at))
