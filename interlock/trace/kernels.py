"""Fields of text lines read character by character, or eight at once: loops that only pay when they are compiled.

A kernel takes lines by their starts and stops, and writes what it surely reads as the grammar does into the arrays of
the table (see `put`). It may look at `AHEAD` bytes behind a line; it leaves lines that have fewer behind them. `words`
are the same text, eight characters from each place on. The channels that it meets are told by where they stand first:
`slots` [most, 2], start and length, zero where unused, and `names` [most], the first eight characters.
"""

from typing import Any, Final

import numpy as np

from interlock.trace.forms import BUS, FRAME, KIND
from interlock.trace.kernel_compiler import U, compiled, part
from interlock.trace.word_kernel import BLANKS, HEX, KEEP, SIXES, UPPER, ZERO, ZEROS, even_at, number_of

AHEAD: Final = 32
MOST_CHANNELS: Final = 16
MAX_SECONDS: Final = 9_000_000_000
LARGEST_IDENT: Final = 0x1FFFFFFF
LARGEST_SHORT: Final = 0x7FF

FD_LENGTH: Final = np.array([1 if n in (*range(9), 12, 16, 20, 24, 32, 48, 64) else 0 for n in range(65)])
TEN: Final = np.array([10**n for n in range(10)], np.int64)
LATE: Final = np.array([8 * (8 - size) & 63 for size in range(9)], np.uint64)
FILL: Final = np.array([0x3030303030303030 & ((1 << 8 * (8 - size)) - 1) for size in range(9)], np.uint64)
BLANK, TAB, POINT = 32, 9, 46


@part
def put(
    out: Any, row: int, time_ns: int, ident: int, word: Any, code: tuple[int, int, int], last: tuple[int, int]
) -> None:
    """Write what a line says: `code` tells the bus, the kind and the bytes of data, `last` the digits behind the point
    of its stamp (-1: it has none), and where its data begin."""
    codes, times_ns, idents, data, long, counts = out
    bus, kind, length = code
    times_ns[row], idents[row], data[row] = time_ns, ident, word
    if kind > FRAME + 1:
        bus, kind, length = 0, kind & -2, 0
    codes[row] = bus << BUS | kind << KIND | length
    counts[0] = max(counts[0], last[0] + 1)
    if length > 8:
        long[counts[1], 0], long[counts[1], 1] = row, last[1]
        counts[1] += 1


@part
def after_blanks(text: Any, words: Any, at: int, stop: int) -> int:
    """Where the first character stands that is no blank; within AHEAD bytes of the text's end it may not begin."""
    while at + 8 <= stop and words[U(at)] == BLANKS:
        at += 8
    while at < stop and (text[U(at)] == BLANK or text[U(at)] == TAB):
        at += 1
    return at


@part
def before_blanks(text: Any, at: int, stop: int) -> int:
    """Where the blanks begin that end at `stop`."""
    while stop > at and (text[U(stop - 1)] == BLANK or text[U(stop - 1)] == TAB):
        stop -= 1
    return stop


@part
def channel_at(text: Any, words: Any, start: int, stop: int, slots: Any, names: Any) -> int:
    """The number of the channel that stands there; -1: there are too many."""
    size = stop - start
    name = words[U(start)] & KEEP[min(size, 8)]
    for number in range(len(slots)):
        if slots[number, 1] == 0:
            slots[number, 0], slots[number, 1], names[number] = start, size, name
            return number
        if slots[number, 1] == size and names[number] == name:
            same, at = True, start + 8
            other = slots[number, 0]
            while same and at < stop:
                same = text[U(at)] == text[U(other + at - start)]
                at += 1
            if same:
                return number
    return -1


@part
def no_stamp() -> tuple[Any, Any, int, int, int]:
    """What `stamp_at` remembers before the first stamp: the first eight characters of a whole number and the last
    eight before its point behind, how many characters it has, what it is, and the digits behind the point."""
    return ZERO, ZERO, 0, 0, 0


@part
def stamp_at(text: Any, words: Any, at: int, stop: int, places: int, last: Any) -> tuple[int, int, int, Any]:
    """A stamp: the number before its point (at most twelve digits), the one behind it of so many places (at most
    nine), where it ends, and what to remember of it; -1: one of them is none."""
    lead, rear, width, value, digits = last
    if width > 7 and words[U(at)] == lead and words[U(at + width - 7)] == rear:
        at += width + 1
    else:
        start, value = at, 0
        while at < stop and 48 <= text[U(at)] <= 57 and at - start <= 12:
            value = 10 * value + (text[U(at)] - 48)
            at += 1
        width = at - start
        if width == 0 or width > 12 or at >= stop or text[U(at)] != POINT:
            return -1, 0, at, no_stamp()
        if width > 7:
            lead, rear = words[U(start)], words[U(at - 7)]
        at += 1
    if 0 < digits < 9:
        apart = (words[U(at)] << LATE[digits] | FILL[digits]) ^ ZEROS
        if (apart | (apart + SIXES)) & UPPER == ZERO and not 48 <= text[U(at + digits)] <= 57:
            fraction = number_of(apart) * TEN[places - digits]
            return value, fraction, at + digits, (lead, rear, width, value, digits)
    start, fraction = at, 0
    while at < stop and 48 <= text[U(at)] <= 57 and at - start <= places:
        fraction = 10 * fraction + (text[U(at)] - 48)
        at += 1
    digits = at - start
    if digits == 0 or digits > places:
        return value, -1, at, no_stamp()
    return value, fraction * TEN[places - digits], at, (lead, rear, width, value, digits)


@part
def ident_at(text: Any, at: int, stop: int) -> tuple[int, int]:
    """The number that at most nine hexadecimal digits write, and where they end; three or four of them at once."""
    high, middle, low, last = (
        HEX[text[U(at)]],
        HEX[text[U(at + 1)]],
        HEX[text[U(at + 2)]],
        HEX[text[U(at + 3)]],
    )
    ident = high << 8 | middle << 4 | low
    if (high | middle | low) < 16:  # a line end is no digit: none of these stands behind the line
        if last > 15:
            return ident, at + 3
        if HEX[text[U(at + 4)]] > 15:
            return ident << 4 | last, at + 4
    ident, first = 0, at
    while at < stop and at - first < 9 and HEX[text[U(at)]] < 16:
        ident = ident << 4 | HEX[text[U(at)]]
        at += 1
    return ident, at


@part
def byte_at(text: Any, at: int, stop: int) -> int:
    """The byte that two hexadecimal digits write; 256 or more: they do not."""
    if at + 1 >= stop or HEX[text[U(at + 1)]] > 15:
        return 256
    value: int = 16 * HEX[text[U(at)]] + HEX[text[U(at + 1)]]
    return value


@part
def parted_at(text: Any, words: Any, at: int, stop: int, count: int) -> tuple[Any, int]:
    """So many bytes, each behind blanks: the first eight as a word, and where they end; -1: they are not there."""
    word, good = even_at(words, at, min(count, 8))
    if good and count <= 8:
        return word, at + 3 * count
    return unevenly_at(text, words, at, stop, count)


@compiled
def unevenly_at(text: Any, words: Any, at: int, stop: int, count: int) -> tuple[Any, int]:
    """The same, whatever blanks there are."""
    word = ZERO
    for number in range(count):
        start = after_blanks(text, words, at, stop)
        value = byte_at(text, start, stop)
        if start == at or value > 255:
            return ZERO, -1
        if number < 8:
            word |= np.uint64(value) << np.uint64(8 * number)
        at = start + 2
    return word, at


@compiled
def long_hex(text: Any, places: Any, block: Any) -> None:
    """Payloads that are known to stand at these places, with blanks between their bytes or not."""
    for row in range(len(places)):
        at = places[row]
        for number in range(block.shape[1]):
            while text[U(at)] == BLANK or text[U(at)] == TAB:
                at += 1
            block[row, number] = 16 * HEX[text[U(at)]] + HEX[text[U(at + 1)]]
            at += 2
