"""Classic data frames of an ASC log in base hex read many at once, whatever their widths; all other lines are left."""

import re
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.cursor import Cursor, Words, of_hex, of_hex_triples
from interlock.trace.forms import FRAME, code_of
from interlock.trace.lane import Found, Rows, model_of
from interlock.trace.lines import Lines, Table

__all__ = ["bus_at", "ident_at", "lane", "stamp_at", "way_at"]

_MODEL: Final = re.compile(
    rb"[ \t]*\d{1,7}\.(\d{1,8})[ \t]+\d+[ \t]+\w+[ \t]+[RT]x[ \t]+d[ \t]+\d(?:[ \t]+\w\w([ \t])?)?"
)
_CHANNELS: Final = 16
_X: Final = ord("x")
_LOWER: Final = np.uint8(0x20)
_BYTE: Final = np.uint64(0xFF)


def lane(lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
    """Put those of these lines into the table that are plain frames, stamped as the first one is; which ones."""
    model = model_of(lines, rows, _MODEL)
    if model is None:
        return np.zeros(len(rows), np.bool_)
    here, digits = Cursor(lines.text, lines.starts[rows]), len(model[1])
    times = stamp_at(here, digits)
    channel, names = bus_at(here)
    read, some = here.ok, np.flatnonzero(here.ok)  # many that are left by others are no classic frames
    here, rows, times, channel = here.only(some), rows[some], times[some], channel[some]
    ident, extended = ident_at(here)
    way_at(here)
    here.sign(b"d", here.blanks())
    length = np.minimum((here.blanks() & _BYTE) - np.uint64(ord("0")), np.uint64(9)).astype(np.uint8)
    here.ok &= length <= 8
    length = np.minimum(length, np.uint8(8))
    here.at = here.at + 1
    data = _data(here, length, model[2] or b" ")
    _check_end(here, lines, rows)
    codes = code_of(channel.astype(np.int32), FRAME + extended, length.astype(np.int32))
    Found(names, codes, times, ident, data, digits).put(table, rows, here.ok)
    read[some] = here.ok
    return read


def stamp_at(here: Cursor, digits: int) -> NDArray[np.int64]:
    """The stamp of each line, in nanoseconds, if so many digits stand behind its point; the place goes behind it."""
    seconds = here.whole(here.blanks(some=False))
    part = here.number(here.word(), digits)
    here.at = here.at + digits
    times = seconds * np.uint64(10**9) + part * np.uint64(10 ** (9 - digits))
    return times.view(np.int64)


def bus_at(here: Cursor) -> tuple[NDArray[np.intp], list[bytes]]:
    """The channel of each line, as an index into their names."""
    channel, names = here.one_of(here.blanks(), _CHANNELS)
    here.ok &= np.array([name.isdigit() for name in names] or [False])[channel]
    return channel, [name.lstrip(b"0") or b"0" for name in names]


def way_at(here: Cursor) -> None:
    """Go behind Rx or Tx."""
    word = here.blanks()
    here.ok &= ((word & _BYTE) == ord("R")) | ((word & _BYTE) == ord("T"))
    here.sign(b"x", word >> np.uint64(8))
    here.at = here.at + 1


def ident_at(here: Cursor) -> tuple[NDArray[np.uint32], NDArray[np.bool_]]:
    """The identifier of each line, and whether it is an extended one."""
    word = here.blanks()
    size = here.token(word)
    size += (size == 8) & ((here.byte(8) | _LOWER) == _X)
    extended = (here.byte(size - np.int64(1)) | _LOWER) == _X
    value, wrong = of_hex(here.late(word, np.minimum(size - extended, 8)), 8)
    ident = value.astype("<u4").byteswap()
    largest = np.where(extended, np.uint32(0x1FFFFFFF), np.uint32(0x7FF))
    here.ok &= ~wrong & (size > extended) & (ident <= largest)
    here.at = here.at + size
    return ident, extended


def _masks() -> NDArray[np.uint64]:
    """For up to eight data bytes, each behind a blank, where the blanks between them stand in three words."""
    whole = np.zeros((9, 24), np.uint8)
    for size in range(9):
        whole[size, 3 : 3 * size : 3] = 255
    return whole.view("<u8").T.copy()


_APART: Final = _masks()
_THREE: Final = np.array([[min(max(n - 3 * k, 0), 3) for n in range(9)] for k in range(3)], np.uint8)


def _data(here: Cursor, length: NDArray[np.uint8], blank: bytes) -> Words:
    """The data bytes of each line, the first one lowest; the place goes behind them."""
    some = length > 0
    if some.all():
        here.blanks()
        here.at = here.at - 1  # one blank before each byte
    else:
        before = here.at
        ok = here.ok.copy()
        here.blanks()
        here.ok = here.ok & some | ok & ~some
        here.at = np.where(some, here.at - 1, before)
    first, second, third = here.word(), here.word(8), here.word(16)
    blanks = np.uint64(int.from_bytes(blank * 8, "little"))
    bad = np.zeros(len(length), np.uint64)
    for word, apart in zip((first, second, third), _APART, strict=True):
        bad |= (word ^ blanks) & apart[length]
    data = np.zeros(len(length), np.uint64)
    runs = (
        first >> np.uint64(8) | second << np.uint64(56),
        second >> np.uint64(16) | third << np.uint64(48),
        third >> np.uint64(24),
    )
    for number, (run, count) in enumerate(zip(runs, _THREE, strict=True)):
        values, wrong = of_hex_triples(run, count[length])
        data |= values << np.uint64(24 * number)
        bad |= wrong
    here.ok &= bad == 0
    here.at = here.at + 3 * length.astype(np.int64)
    return data


def _check_end(here: Cursor, lines: Lines, rows: Rows) -> None:
    """Nothing but blanks stands behind the data, or a length, a number of bits and an identifier."""
    at = here.at
    here.blanks(some=False)
    more = here.ok & (here.at < lines.stops[rows])
    here.ok &= here.at <= lines.stops[rows]
    if not more.any():
        return
    tail = Cursor(lines.text, at[more])
    for sign in (b"Length", b"BitCount", b"ID"):
        tail.sign(sign, tail.blanks())
        tail.sign(b"=", tail.blanks(some=False))
        word = tail.blanks(some=False)
        size = tail.token(word)
        if sign == b"ID":
            size = _long_number(tail, word, size)
        else:
            tail.number(word, size)
            tail.ok &= size > 0
        tail.at = tail.at + size
    tail.blanks(some=False)
    here.ok[more] = tail.ok & (tail.at == lines.stops[rows][more])


def _long_number(here: Cursor, word: Words, size: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """How many characters a number of at most sixteen digits has, with an x behind it or not."""
    more = here.word(8)
    size = size + (size == 8) * here.token(more)
    digits = size - ((here.byte(size - np.int64(1)) | _LOWER) == _X)
    here.ok &= (digits > 0) & (digits <= 12)
    here.number(word, np.minimum(digits, 8))
    here.number(more, np.clip(digits, 8, 16) - np.uint8(8))
    return size
