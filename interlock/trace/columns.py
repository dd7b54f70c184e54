"""Numbers out of many text lines of equal length at once: eight characters to a 64-bit word."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.shape import Shape, Span

__all__ = ["AHEAD", "Text", "base64_bytes", "decimal", "gather_text", "hex_bytes", "hexadecimal", "matching"]

Bytes = NDArray[np.uint8]
Words = NDArray[np.uint64]
Text = NDArray[np.uint8]
"""Characters of lines of equal length, one line a row; the width is a multiple of eight, at least eight more."""

AHEAD: Final = 8
"""Bytes behind a line that may be looked at with it."""

_ZEROS: Final = np.uint64(0x3030303030303030)  # the character 0 in each byte
_SIXES: Final = np.uint64(0x0606060606060606)
_HIGH: Final = np.uint64(0xF0F0F0F0F0F0F0F0)
_LOW_NIBBLES: Final = np.uint64(0x0F0F0F0F0F0F0F0F)
_JOINED: Final = (
    (np.uint64(2561), np.uint64(8), np.uint64(0x00FF00FF00FF00FF)),
    (np.uint64(6553601), np.uint64(16), np.uint64(0x0000FFFF0000FFFF)),
    (np.uint64(42949672960001), np.uint64(32), np.uint64(0xFFFFFFFF)),
)
"""Neighbours joined to numbers of two, four and eight digits: factor, shift, and the bits that hold them."""

_BLANKS: Final = np.uint64(0x1010101010101010)  # by which a blank differs from the character 0
_ABOVE: Final = np.uint64(0xE0E0E0E0E0E0E0E0)
_BAD: Final = 1 << 15  # marks a pair of characters that is no number


def gather_text(text: bytes, starts: NDArray[np.int64], length: int) -> Text:
    """The lines that start at these bytes, all of this length; `text` goes on for AHEAD bytes after the last line."""
    width = (length + AHEAD) // 8 * 8
    rows = np.ndarray((len(text) - width + 1,), f"V{width}", text, 0, (1,))[starts]
    return rows.view(np.uint8).reshape(len(starts), width)


def matching(text: Text, model: bytes, shape: Shape) -> NDArray[np.bool_]:
    """Which lines have the same bytes as the model in each place that is no field, and digits in decimal fields.

    Fields that are not decimal are not looked at: whoever reads them finds what is no number.
    """
    masks = _masks(model, text.shape[1], shape)
    wanted = bytearray(model.ljust(text.shape[1], b"\0"))
    for span in _decimal_spans(shape):
        wanted[slice(*span)] = b"0" * (span[1] - span[0])
    wrong = np.zeros(len(text), np.uint64)
    for at in range(0, text.shape[1], 8):
        fixed, digit, padded = (_number(one, at) for one in (masks.fixed, masks.digits, masks.padded))
        if not fixed | digit | padded:
            continue
        differs = _word(text, at) ^ _number(wanted, at)
        if fixed:
            wrong |= differs & fixed
        if padded:
            wrong |= _wrongly_padded(text, at, differs & padded, _number(masks.inner, at))
        if digit:
            differs &= digit
            above = differs + _SIXES
            above |= differs
            above &= _HIGH & digit
            wrong |= above
    alike: NDArray[np.bool_] = wrong == 0
    for place, allowed in shape.free:
        characters = text[:, place]
        alike &= np.logical_or.reduce([characters == one for one in allowed])
    return alike


def _wrongly_padded(text: Text, at: int, differs: Words, inner: np.uint64) -> Words:
    """Not zero where a character is neither a digit nor a blank, or a blank stands behind a digit.

    `differs` is zero, a digit's value or 0x10 (a blank) in each byte that may be a blank, and zero in the others;
    `inner` marks bytes that are not the first of their field.
    """
    blank = differs & _BLANKS
    low = differs & ~_HIGH
    before = _word(text, at - 1) if at else _word(text, 0) << np.uint64(8)
    wrong: Words = (low & (blank - (blank >> np.uint64(4)))) | (differs & _ABOVE) | ((low + _SIXES) & _BLANKS)
    return wrong | (blank & inner & ~(before ^ _ZEROS))


def _number(characters: bytes | bytearray, at: int) -> np.uint64:
    """Eight bytes, the first one lowest."""
    return np.uint64(int.from_bytes(characters[at : at + 8], "little"))


def _decimal_spans(shape: Shape) -> tuple[Span, ...]:
    spans: tuple[Span, ...] = (shape.seconds, shape.fraction, shape.bus, *shape.loose)
    if shape.ident_base == 10:
        spans = (*spans, shape.ident)
    return (*spans, *shape.payload) if shape.encoding == "dec" else spans


@dataclass(frozen=True, slots=True)
class _Masks:
    """Which bytes of a line must be what; 255 in each such byte."""

    fixed: bytes  # equal to the model's
    digits: bytes  # decimal digits
    padded: bytes  # decimal digits or leading blanks
    inner: bytes  # of these, those that are not the first of their field


def _masks(model: bytes, width: int, shape: Shape) -> _Masks:
    fixed = bytearray((b"\xff" * len(model)).ljust(width, b"\0"))
    digits, padded, inner = bytearray(width), bytearray(width), bytearray(width)
    for span in (shape.ident, *shape.payload, *shape.loose_hex, shape.ignored):
        fixed[slice(*span)] = bytes(span[1] - span[0])
    for span in _decimal_spans(shape):
        fixed[slice(*span)] = bytes(span[1] - span[0])
        digits[slice(*span)] = b"\xff" * (span[1] - span[0])
    for place, _ in shape.free:
        fixed[place] = 0
    for start, stop in _padded_spans(shape):
        if stop - start > 1:
            digits[start : stop - 1] = bytes(stop - 1 - start)
            padded[start : stop - 1] = b"\xff" * (stop - 1 - start)
            inner[start + 1 : stop - 1] = b"\xff" * (stop - 2 - start)
    if shape.encoding == "base64" and shape.payload:
        for at in range(*shape.payload[0]):
            fixed[at] = 255 * (model[at : at + 1] == b"=")  # padding stands where the model's does
    return _Masks(bytes(fixed), bytes(digits), bytes(padded), bytes(inner))


def _padded_spans(shape: Shape) -> tuple[Span, ...]:
    if not shape.padded:
        return ()
    return (shape.seconds, *shape.loose, *(shape.payload if shape.encoding == "dec" else ()))


def _word(text: Text, at: int) -> Words:
    """Eight characters of each line from column `at`, the first one in the lowest byte."""
    return np.ndarray((len(text),), "<u8", text.data, at, (text.shape[1],)).astype(np.uint64)


def decimal(text: Text, span: Span) -> Words:
    """Whole numbers of at most sixteen decimal digits."""
    start, stop = span
    low = _eight_digits(text, max(start, stop - 8), stop)
    if stop - start <= 8:
        return low
    return _eight_digits(text, start, stop - 8) * np.uint64(10**8) + low


def _eight_digits(text: Text, start: int, stop: int) -> Words:
    """Up to eight digits: neighbours are joined to pairs, pairs to fours, fours to eights."""
    if start == stop:
        return np.zeros(len(text), np.uint64)
    word = _word(text, max(stop - 8, 0))
    if stop < 8:
        word <<= np.uint64(8 * (8 - stop))
    missing = 8 * (8 - (stop - start))
    word &= _LOW_NIBBLES & np.uint64((1 << 64) - (1 << missing))  # of a digit its value, of a blank 0
    for factor, shift, kept in _JOINED:
        word *= factor
        word >>= shift
        word &= kept
    return word


def _pair_table(digits: bytes, *, base: int, fold: bool) -> NDArray[np.uint16]:
    """For each two characters, the second one in the high byte, the number they write; _BAD if none."""
    value = np.full(256, -1, np.int64)
    value[list(digits)] = np.arange(len(digits))
    if fold:
        value[list(digits.lower())] = np.arange(len(digits))
    first, second = np.meshgrid(value, value, indexing="xy")  # [second, first]
    both = np.where((first < 0) | (second < 0), _BAD, first * base + second)
    return both.astype(np.uint16).ravel()


_HEX: Final = _pair_table(b"0123456789ABCDEF", base=16, fold=True)
_BASE64: Final = _pair_table(
    b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/", base=64, fold=False
)


def _pair(text: Text, at: int, table: NDArray[np.uint16], *, second: int | None = None) -> NDArray[np.uint16]:
    """The number that the characters at `at` and the next column write; with a fixed second character if given."""
    pair = np.ndarray((len(text),), "<u2", text.data, at, (text.shape[1],))
    if second is not None:
        pair = pair & np.uint16(0xFF) | np.uint16(second << 8)
    numbers: NDArray[np.uint16] = table.take(pair)
    return numbers


def hexadecimal(text: Text, span: Span) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Numbers of at most twelve hexadecimal digits, and where there is none."""
    start, stop = span
    total = np.zeros(len(text), np.int64)
    wrong = np.zeros(len(text), np.uint16)
    odd = (stop - start) % 2
    if odd:
        first = _pair(text, start, _HEX, second=ord("0"))
        wrong |= first
        total += (first & 0xFF) >> 4
    for at in range(start + odd, stop, 2):
        value = _pair(text, at, _HEX)
        wrong |= value
        total = total << 8 | value & 0xFF
    return total, (wrong & _BAD) != 0


def hex_bytes(text: Text, spans: Sequence[Span]) -> tuple[Bytes, NDArray[np.bool_]]:
    """One byte for each span of two hexadecimal digits, and the lines where one is none."""
    block = np.empty((len(text), len(spans)), np.uint8)
    wrong = np.zeros(len(text), np.uint16)
    for column, (start, _) in enumerate(spans):
        value = _pair(text, start, _HEX)
        wrong |= value
        block[:, column] = value
    return block, (wrong & _BAD) != 0


def base64_bytes(text: Text, span: Span, length: int, model: bytes) -> tuple[Bytes, NDArray[np.bool_]]:
    """Payloads in base64 (RFC 4648, section 4) padded as the model is, and the lines where there is none."""
    start, stop = span
    wrong = np.zeros(len(text), np.uint16)
    block = np.zeros((len(text), (stop - start) // 4 * 3), np.uint8)
    for group in range((stop - start) // 4):
        at = start + 4 * group
        high = _pair(text, at, _BASE64)
        low = np.zeros(len(text), np.uint16)
        if model[at + 2] != ord("="):
            padded = ord("A") if model[at + 3] == ord("=") else None
            low = _pair(text, at + 2, _BASE64, second=padded)
        wrong |= high | low
        word = high.astype(np.uint32) << 12 | low
        for place in range(3):
            block[:, 3 * group + place] = (word >> (16 - 8 * place) & 0xFF).astype(np.uint8)
    return block[:, :length], (wrong & _BAD) != 0
