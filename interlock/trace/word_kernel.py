"""Eight characters of a text at once as one number: digits into values, by operations that pay when compiled."""

from string import hexdigits
from typing import Any, Final

import numpy as np

from interlock.trace.kernel_compiler import U, part

__all__ = [
    "BLANKS",
    "HEX",
    "KEEP",
    "SIXES",
    "UPPER",
    "ZERO",
    "ZEROS",
    "even_at",
    "hex_word",
    "number_of",
    "short_hex",
    "swapped",
]

HEX: Final = np.array([int(chr(one), 16) if chr(one) in hexdigits else 16 for one in range(256)], np.int64)
"""The value of each hexadecimal digit; 16: a character is none."""
KEEP: Final = np.array([(1 << 8 * size) - 1 for size in range(9)], np.uint64)

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


@part
def number_of(apart: Any) -> Any:
    """Eight digits, the value of each in a byte, the first one lowest, as one number."""
    apart = apart * _JOIN_2 >> _8 & _BYTES
    apart = apart * _JOIN_4 >> _16 & _PAIRS
    return np.int64(apart * _JOIN_8 >> _32 & _FOURS)


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
def triple(word: Any, count: int) -> tuple[Any, Any]:
    """Up to three bytes that `XX XX XX` writes, the first one lowest; and what is not zero where it does not."""
    keep = TRIPLE[min(max(count, 0), 3)]
    value, wrong = nibbles((word & keep) | (ZEROS & ~keep))
    value = value << _4 | value >> _8
    return value & _FIRST | value >> _16 & _SECOND | value >> _32 & _THIRD, wrong


@part
def even_at(words: Any, at: int, count: int) -> tuple[Any, bool]:
    """At most eight bytes, each behind one blank, as a word, and whether they stand there."""
    first, second, third = words[U(at)], words[U(at + 8)], words[U(at + 16)]
    bad = (first ^ BLANKS) & APART[0, count] | (second ^ BLANKS) & APART[1, count]
    low, wrong = triple(first >> _8 | second << _56, count)
    middle, also = triple(
        second >> _16 | third << _48, count - 3
    )  # no branches: how long lines are is hard to guess
    high, more = triple(third >> _24, count - 6)
    bad |= wrong | also | more | (third ^ BLANKS) & APART[2, count]
    return low | middle << _24 | high << _48, bad == ZERO
