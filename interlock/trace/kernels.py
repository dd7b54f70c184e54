"""Pieces of text lines read character by character, or eight at once: loops that only pay when they are compiled.

A kernel takes lines by their starts and stops, writes what it surely reads as the grammar does into the arrays of the
table, and says of each line which form it has (see `code_of`), or 0. It may look at `AHEAD` bytes behind a line; it
leaves lines that have fewer behind them. `words` are the same text, eight characters from each place on. The channels
that it meets are told by where they stand first: `slots` [most, 2], start and length, zero where unused, and `names`
[most], the first eight characters. `most` [1] is raised to the most digits behind the point of any stamp.
"""

import importlib
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from string import hexdigits
from typing import Any, Final, TypeVar
from zlib import crc32

import numpy as np

from interlock.trace.forms import KINDS, LENGTHS

Function = TypeVar("Function", bound=Callable[..., Any])
COMPILER: Any = None
with suppress(ImportError):
    COMPILER = importlib.import_module("numba").njit


def _version() -> int:
    """A number that changes with any kernel: what the compiler keeps of one must not outlive a change of its parts."""
    return crc32(b"".join(path.read_bytes() for path in sorted(Path(__file__).parent.glob("*kernel*.py"))))


_VERSION: Final = 0 if COMPILER is None else _version()


def compiled(function: Function) -> Function:
    """The loop compiled, if the compiler is installed (the extra `fast`)."""
    if COMPILER is None:
        return function
    function.__qualname__ += f"_{_VERSION:08x}"  # part of the name under which it is kept
    made: Function = COMPILER(function, cache=True, error_model="numpy")
    return made


def part(function: Function) -> Function:
    """A part of loops, put into each of them where it is called."""
    if COMPILER is None:
        return function
    made: Function = COMPILER(function, inline="always", error_model="numpy")
    return made


AHEAD: Final = 24
MOST_CHANNELS: Final = 16
MAX_SECONDS: Final = 9_000_000_000
LARGEST_IDENT: Final = 0x1FFFFFFF
LARGEST_SHORT: Final = 0x7FF

HEX: Final = np.array([int(chr(one), 16) if chr(one) in hexdigits else 16 for one in range(256)], np.int64)
"""The value of each hexadecimal digit; 16: a character is none."""
FD_LENGTH: Final = np.array([1 if n in (*range(9), 12, 16, 20, 24, 32, 48, 64) else 0 for n in range(65)])
TEN: Final = np.array([10**n for n in range(10)], np.int64)
KEEP: Final = np.array([(1 << 8 * size) - 1 for size in range(9)], np.uint64)
LATE: Final = np.array([8 * (8 - size) & 63 for size in range(9)], np.uint64)
FILL: Final = np.array([0x3030303030303030 & ((1 << 8 * (8 - size)) - 1) for size in range(9)], np.uint64)

ZERO: Final = np.uint64(0)
ZEROS: Final = np.uint64(0x3030303030303030)
SIXES: Final = np.uint64(0x0606060606060606)
UPPER: Final = np.uint64(0xF0F0F0F0F0F0F0F0)
LOW: Final = np.uint64(0x0F0F0F0F0F0F0F0F)
ONES: Final = np.uint64(0x0101010101010101)
BLANKS: Final = np.uint64(0x2020202020202020)
_BYTES: Final = np.uint64(0x00FF00FF00FF00FF)
_PAIRS: Final = np.uint64(0x0000FFFF0000FFFF)
_FOURS: Final = np.uint64(0x00000000FFFFFFFF)
_JOIN_2, _JOIN_4, _JOIN_8 = np.uint64(2561), np.uint64(6553601), np.uint64(42949672960001)
_4, _5, _6, _7, _8, _16, _32 = (np.uint64(n) for n in (4, 5, 6, 7, 8, 16, 32))
_24, _48, _56 = (np.uint64(n) for n in (24, 48, 56))
_FIRST, _SECOND, _THIRD = (np.uint64(0xFF << 8 * n) for n in range(3))
TRIPLE: Final = np.array([0, 0xFFFF, 0xFFFF00FFFF, 0xFFFF00FFFF00FFFF], np.uint64)
"""Where the digits of so many bytes stand in `XX XX XX`."""
APART: Final = np.array(
    [
        [sum(255 << 8 * at % 64 for at in range(0, 3 * count, 3) if at // 8 == word) for count in range(9)]
        for word in range(3)
    ],
    np.uint64,
)
"""Where the blanks before so many bytes stand in three words."""
_9: Final = np.uint64(9)

BLANK, TAB, POINT = 32, 9, 46


@part
def code_of(channel: int, kind: int, length: int) -> int:
    """The number of a form; none is 0."""
    return 1 + (channel * KINDS + kind) * LENGTHS + length


@part
def after_blanks(text: Any, words: Any, at: int, stop: int) -> int:
    """Where the first character stands that is no blank; within AHEAD bytes of the text's end it may not begin."""
    while at + 8 <= stop and words[at] == BLANKS:
        at += 8
    while at < stop and (text[at] == BLANK or text[at] == TAB):
        at += 1
    return at


@part
def before_blanks(text: Any, at: int, stop: int) -> int:
    """Where the blanks begin that end at `stop`."""
    while stop > at and (text[stop - 1] == BLANK or text[stop - 1] == TAB):
        stop -= 1
    return stop


@part
def channel_at(text: Any, words: Any, start: int, stop: int, slots: Any, names: Any) -> int:
    """The number of the channel that stands there; -1: there are too many."""
    size = stop - start
    name = words[start] & KEEP[min(size, 8)]
    for number in range(len(slots)):
        if slots[number, 1] == 0:
            slots[number, 0], slots[number, 1], names[number] = start, size, name
            return number
        if slots[number, 1] == size and names[number] == name:
            same, at = True, start + 8
            other = slots[number, 0]
            while same and at < stop:
                same = text[at] == text[other + at - start]
                at += 1
            if same:
                return number
    return -1


@part
def number_of(apart: Any) -> Any:
    """Eight digits, the value of each in a byte, the first one lowest, as one number."""
    apart = apart * _JOIN_2 >> _8 & _BYTES
    apart = apart * _JOIN_4 >> _16 & _PAIRS
    return np.int64(apart * _JOIN_8 >> _32 & _FOURS)


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
    if width > 7 and words[at] == lead and words[at + width - 7] == rear:
        at += width + 1
    else:
        start, value = at, 0
        while at < stop and 48 <= text[at] <= 57 and at - start <= 12:
            value = 10 * value + (text[at] - 48)
            at += 1
        width = at - start
        if width == 0 or width > 12 or at >= stop or text[at] != POINT:
            return -1, 0, at, no_stamp()
        if width > 7:
            lead, rear = words[start], words[at - 7]
        at += 1
    if 0 < digits < 9:
        apart = (words[at] << LATE[digits] | FILL[digits]) ^ ZEROS
        if (apart | (apart + SIXES)) & UPPER == ZERO and not 48 <= text[at + digits] <= 57:
            fraction = number_of(apart) * TEN[places - digits]
            return value, fraction, at + digits, (lead, rear, width, value, digits)
    start, fraction = at, 0
    while at < stop and 48 <= text[at] <= 57 and at - start <= places:
        fraction = 10 * fraction + (text[at] - 48)
        at += 1
    digits = at - start
    if digits == 0 or digits > places:
        return value, -1, at, no_stamp()
    return value, fraction * TEN[places - digits], at, (lead, rear, width, value, digits)


@part
def nibbles(word: Any) -> tuple[Any, Any]:
    """The value of each hexadecimal digit in its byte, and what is not zero if a character is none."""
    letter = word >> _6 & ONES
    value = (word & LOW) + letter * _9
    said = ((value + SIXES) >> _4 & ONES) * _7 + value + ZEROS  # the character that writes the value
    return value, (said ^ (word & ~(letter << _5))) | (value & UPPER)


@part
def hex_word(word: Any) -> tuple[Any, Any]:
    """The four bytes that eight hexadecimal digits write, the first one lowest; and what is not zero if they do not."""
    value, wrong = nibbles(word)
    value = (value << _4 | value >> _8) & _BYTES
    value = (value | value >> _8) & _PAIRS
    return (value | value >> _16) & _FOURS, wrong


@part
def short_hex(word: Any, count: int) -> tuple[Any, Any]:
    """The same of the first characters of a word only."""
    return hex_word((word & KEEP[count]) | (ZEROS & ~KEEP[count]))


@part
def swapped(value: Any) -> Any:
    """Four bytes, the first one lowest, as a number that is written with the first one highest."""
    value = (value & _PAIRS) << _16 | value >> _16
    return np.int64((value & np.uint64(0x00FF00FF)) << _8 | value >> _8 & np.uint64(0x00FF00FF))


@part
def ident_at(text: Any, at: int, stop: int) -> tuple[int, int]:
    """The number that at most nine hexadecimal digits write, and where they end; three or four of them at once."""
    high, middle, low, last = HEX[text[at]], HEX[text[at + 1]], HEX[text[at + 2]], HEX[text[at + 3]]
    ident = high << 8 | middle << 4 | low
    if (high | middle | low) < 16:  # a line end is no digit: none of these stands behind the line
        if last > 15:
            return ident, at + 3
        if HEX[text[at + 4]] > 15:
            return ident << 4 | last, at + 4
    ident, first = 0, at
    while at < stop and at - first < 9 and HEX[text[at]] < 16:
        ident = ident << 4 | HEX[text[at]]
        at += 1
    return ident, at


@part
def byte_at(text: Any, at: int, stop: int) -> int:
    """The byte that two hexadecimal digits write; 256 or more: they do not."""
    if at + 1 >= stop or HEX[text[at + 1]] > 15:
        return 256
    value: int = 16 * HEX[text[at]] + HEX[text[at + 1]]
    return value


@part
def triple(word: Any, count: int) -> tuple[Any, Any]:
    """Up to three bytes that `XX XX XX` writes, the first one lowest; and what is not zero where it does not."""
    keep = TRIPLE[min(max(count, 0), 3)]
    value, wrong = nibbles((word & keep) | (ZEROS & ~keep))
    value = value << _4 | value >> _8
    return value & _FIRST | value >> _16 & _SECOND | value >> _32 & _THIRD, wrong


@part
def even_at(words: Any, at: int, count: int) -> tuple[Any, bool]:
    """At most eight bytes, each behind one blank, as a word, and whether they stand there."""
    first, second, third = words[at], words[at + 8], words[at + 16]
    bad = (first ^ BLANKS) & APART[0, count] | (second ^ BLANKS) & APART[1, count]
    low, wrong = triple(first >> _8 | second << _56, count)
    middle, also = triple(
        second >> _16 | third << _48, count - 3
    )  # no branches: how long lines are is hard to guess
    high, more = triple(third >> _24, count - 6)
    bad |= wrong | also | more | (third ^ BLANKS) & APART[2, count]
    return low | middle << _24 | high << _48, bad == ZERO


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
            while text[at] == BLANK or text[at] == TAB:
                at += 1
            block[row, number] = 16 * HEX[text[at]] + HEX[text[at + 1]]
            at += 2
