"""Fields of many text lines at once wherever they stand: each line has a place of its own, eight characters a step."""

from copy import copy
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["Cursor", "Words", "number_of", "of_hex", "of_hex_triples"]

Ints = NDArray[np.int64]
Words = NDArray[np.uint64]
Flags = NDArray[np.bool_]


def _every(byte: int) -> np.uint64:
    return np.uint64(byte * 0x0101010101010101)


_BLANKS: Final = _every(0x20)
_ABOVE_BLANK: Final = _every(0x21)
_HIGH: Final = _every(0x80)
_LOW: Final = _every(0x0F)
_ONES: Final = _every(1)
_SIXES: Final = _every(6)
_ZEROS: Final = _every(0x30)
_UPPER: Final = _every(0xF0)
_POINTS: Final = _every(ord("."))
_EIGHT: Final = np.uint64(8)
_TAB: Final = 9
_MOST: Final = 6  # steps over blanks, eight at most in each

_KEEP: Final = np.array([(1 << 8 * size) - 1 for size in range(9)], np.uint64)
"""Masks of the first characters of a word."""
_LATE: Final = np.array([8 * (8 - size) for size in range(9)], np.uint64)
_FILL: Final = np.array([0x3030303030303030 & ((1 << 8 * (8 - size)) - 1) for size in range(9)], np.uint64)


def _first(flags: Words) -> NDArray[np.uint8]:
    """The number of the lowest byte with a bit set; eight: none."""
    place: NDArray[np.uint8] = np.bitwise_count((flags - np.uint64(1)) & ~flags) >> np.uint8(3)
    return place


class Cursor:
    """A place in each of many lines of a text, moved over all of them together; `ok` drops what went wrong."""

    def __init__(self, text: bytes, at: Ints) -> None:
        self._bytes = np.frombuffer(text, np.uint8)
        self._words = np.ndarray((len(text) - 7,), "<u8", text, 0, (1,))
        self.at = at
        self.ok = np.ones(len(at), np.bool_)

    def only(self, lines: Ints) -> "Cursor":
        """The same place in some of the lines, with an `ok` of its own."""
        other = copy(self)
        other.at = self.at[lines]
        other.ok = np.ones(len(lines), np.bool_)
        return other

    def before(self, stops: Ints) -> Words:
        """The eight characters of each line before these places, the last one highest."""
        characters: Words = self._words[stops - 8]
        return characters

    def word(self, ahead: int = 0) -> Words:
        """Eight characters of each line from its place on, the first one lowest."""
        characters: Words = self._words[self.at + ahead if ahead else self.at]
        return characters

    def byte(self, ahead: "int | Ints" = 0) -> NDArray[np.uint8]:
        """One character of each line."""
        characters: NDArray[np.uint8] = self._bytes[self.at + ahead]
        return characters

    def blanks(self, *, some: bool = True) -> Words:
        """Go to the next character that is no blank, and give the word there; `some`: there must be one blank."""
        word = self.word()
        if some:
            first = (word & np.uint64(0xFF)).astype(np.uint8)
            self.ok &= (first == 0x20) | (first == _TAB)
        for _ in range(_MOST):
            lead = _first(word ^ _BLANKS)
            if not lead.any():
                lead = ((word & np.uint64(0xFF)) == _TAB).astype(np.uint8)
                if not lead.any():
                    return word
            self.at = self.at + lead
            word = self.word()
        first = (word & np.uint64(0xFF)).astype(np.uint8)
        self.ok &= (first != 0x20) & (first != _TAB)
        return word

    def sign(self, sign: bytes, word: Words) -> None:
        """Go behind a sign of at most eight characters, which must stand here."""
        self.ok &= (word & _KEEP[len(sign)]) == np.uint64(int.from_bytes(sign, "little"))
        self.at = self.at + len(sign)

    def token(self, word: Words) -> NDArray[np.uint8]:
        """How many characters stand from here before a blank or line end; eight: at least so many."""
        return _first((word - _ABOVE_BLANK) & ~word & _HIGH)

    def whole(self, word: Words) -> Words:
        """The digits before the next point, at most seven, as a number; the place goes behind the point."""
        apart = word ^ _POINTS
        count = _first((apart - _ONES) & ~apart & _HIGH)
        self.ok &= (count > 0) & (count < 8)
        self.at = self.at + count + 1
        return self.number(word, count)

    def number(self, word: Words, count: "NDArray[np.uint8] | int") -> Words:
        """The number that the first digits of a word write."""
        apart = self.late(word, count) ^ _ZEROS
        self.ok &= ((apart | (apart + _SIXES)) & _UPPER) == 0
        return number_of(apart)

    def late(self, word: Words, count: "NDArray[np.uint8] | int") -> Words:
        """The first characters of a word moved to its end, behind zeros."""
        moved: Words = (word << _LATE[count]) | _FILL[count]
        return moved

    def one_of(self, word: Words, most: int) -> "tuple[NDArray[np.intp], list[bytes]]":
        """The token in each line, as an index into the different ones; lines beyond so many tokens are dropped."""
        size = self.token(word)
        self.ok &= (size > 0) & (size < 8)
        word = word & _KEEP[size]
        which = np.zeros(len(word), np.intp)
        found: list[bytes] = []
        left = self.ok.copy()
        while left.any() and len(found) < most:
            model = word[int(np.argmax(left))]
            same = word == model
            which[same] = len(found)
            found.append(int(model).to_bytes(8, "little").rstrip(b"\0"))
            left &= ~same
        self.ok &= ~left
        self.at = self.at + size
        return which, found


def number_of(values: Words) -> Words:
    """Eight digits, the value of each in a byte, the first one lowest, as one number."""
    for factor, shift, kept in (
        (2561, 8, 0x00FF00FF00FF00FF),
        (6553601, 16, 0x0000FFFF0000FFFF),
        (42949672960001, 32, 0xFFFFFFFF),
    ):
        values = values * np.uint64(factor)
        values >>= np.uint64(shift)
        values &= np.uint64(kept)
    return values


def _nibbles(word: Words) -> tuple[Words, Words]:
    """The value of each hexadecimal digit in its byte, and what is not zero if a character is none."""
    letter = word >> np.uint64(6)
    letter &= _ONES
    value = word & _LOW
    value += letter * np.uint64(9)
    said = value + _SIXES
    said >>= np.uint64(4)
    said &= _ONES
    said *= np.uint64(7)
    said += value
    said += _ZEROS  # the character that writes the value
    letter <<= np.uint64(5)
    said ^= word & ~letter
    said |= value & _UPPER
    return value, said


def of_hex(word: Words, size: "NDArray[np.uint8] | int") -> tuple[Words, Flags]:
    """Up to four bytes that the first characters of a word write, the first one lowest, and where they do not."""
    word = word & _KEEP[size]
    word |= _ZEROS & ~_KEEP[size]
    value, wrong = _nibbles(word)
    value = (value << np.uint64(4) | value >> _EIGHT) & np.uint64(0x00FF00FF00FF00FF)
    value = (value | value >> _EIGHT) & np.uint64(0x0000FFFF0000FFFF)
    return (value | value >> np.uint64(16)) & np.uint64(0xFFFFFFFF), wrong != 0


_TRIPLE_KEEP: Final = np.array([0, 0xFFFF, 0xFFFF00FFFF, 0xFFFF00FFFF00FFFF], np.uint64)
"""Masks of the digits of as many bytes."""


def of_hex_triples(word: Words, count: "NDArray[np.uint8]") -> tuple[Words, Words]:
    """Up to three bytes that `XX XX XX` writes, the first one lowest; and what is not zero where it does not.

    What stands between the bytes is not looked at.
    """
    keep = _TRIPLE_KEEP[count]
    value, wrong = _nibbles((word & keep) | (_ZEROS & ~keep))
    value = value << np.uint64(4) | value >> _EIGHT
    first, second = value & np.uint64(0xFF), value >> np.uint64(16) & np.uint64(0xFF00)
    return first | second | value >> np.uint64(32) & np.uint64(0xFF0000), wrong
