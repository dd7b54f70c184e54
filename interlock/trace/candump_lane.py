"""The frames of a candump log read many at once, whatever their widths; all other lines are left."""

import re
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.cursor import Cursor, Words, of_hex
from interlock.trace.forms import ERROR, FRAME, REMOTE, code_of
from interlock.trace.lane import Found, Kernel, Lanes, Rows, long_payloads, model_of
from interlock.trace.lines import Lines, Table
from interlock.trace.reading import LENGTHS_FD
from interlock.trace.shape import MAX_SECONDS

__all__ = ["KERNEL", "LANES", "lane"]

_STAMP: Final = re.compile(rb"\((\d{8,12})\.(\d{1,8})\)[ \t]")
_NAME: Final = re.compile(rb"[!-~]+")
_CHANNELS: Final = 16
_HASH: Final = np.uint64(ord("#"))
_LETTERS: Final = np.isin(np.arange(256), list(b"RT"))
_BLANK: Final = np.isin(np.arange(256), list(b" \t"))
_HEX: Final = np.isin(np.arange(256), list(b"0123456789abcdefABCDEF"))
_FITS: Final = np.isin(np.arange(100), LENGTHS_FD)
_LOWER: Final = np.uint8(0x20)
_LARGEST, _ERROR = np.uint32(0x1FFFFFFF), np.uint32(0x0FFFFFFF)


def lane(lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
    """Put those of these lines into the table that are frames stamped as the first one is; which ones."""
    none = np.zeros(len(rows), np.bool_)
    model = model_of(lines, rows, _STAMP)
    if model is None:
        return none
    here = Cursor(lines.text, lines.starts[rows] + 1)
    times_ns = _stamps(here, len(model[1]), len(model[2]))
    if not here.ok.any():
        return none
    channel, names = here.one_of(here.blanks(), _CHANNELS)
    here.ok &= np.array([_NAME.fullmatch(name) is not None for name in names] or [False])[channel]
    ident, short = _ident(here)
    error = ident > _LARGEST
    ident = np.where(error, ident & _ERROR, ident)
    size = _end(here, lines.stops[rows]) - here.at
    first = here.byte()
    remote = (first | _LOWER) == ord("r")
    here.ok &= ~remote | (size == 1) | ((size == 2) & _HEX[here.byte(1)])
    flexible = np.flatnonzero(here.ok & (first == ord("#")) & ~error)
    one, sizes = here.only(flexible), size[flexible] - 2  # without the second hash and the flags
    size = np.where(remote, 0, size)
    length = size >> 1
    data = _payloads(here, size)
    if len(flexible):
        one.ok &= _HEX[one.byte(1)] & (sizes >= 0) & (sizes & 1 == 0) & _FITS[np.clip(sizes >> 1, 0, 99)]
        one.at = one.at + 2
        length[flexible] = sizes >> 1
        data[flexible] = long_payloads(lines.text, table, rows[flexible], one, sizes >> 1, apart=0)
        here.ok[flexible] = one.ok
    codes = code_of(channel.astype(np.int32), FRAME + ~short, length.astype(np.int32))
    if remote.any() or error.any():
        codes = np.where(error, code_of(0, ERROR, 0), np.where(remote, code_of(0, REMOTE, 0), codes))
    Found(names, codes, times_ns, ident, data, len(model[2])).put(table, rows, here.ok)
    return here.ok


def _ident(here: Cursor) -> tuple[NDArray[np.uint32], NDArray[np.bool_]]:
    """The identifier of each line with the flag of an error frame, and whether it is a short one; the place goes
    behind its hash."""
    word = here.blanks()
    short = (word >> np.uint64(24) & np.uint64(0xFF)) == _HASH
    here.ok &= short | (here.byte(8) == _HASH)
    digits = np.where(short, word << np.uint64(40) | np.uint64(0x3030303030), word)
    value, wrong = of_hex(digits, 8)
    ident = value.astype("<u4").byteswap()
    here.ok &= ~wrong & (ident <= np.where(short, np.uint32(0x7FF), np.uint32(0x3FFFFFFF)))
    here.at = here.at + np.where(short, 4, 9)
    return ident, short


def _payloads(here: Cursor, size: NDArray[np.int64]) -> Words:
    """The data of each line, in so many characters up to sixteen."""
    here.ok &= (size >= 0) & (size <= 16) & (size & 1 == 0)
    size = np.clip(size, 0, 16)
    data, wrong = of_hex(here.word(), np.minimum(size, 8).astype(np.uint8))
    more, also = of_hex(here.word(8), np.maximum(size - 8, 0).astype(np.uint8))
    here.ok &= ~(wrong | also)
    return data | more << np.uint64(32)


def _stamps(here: Cursor, whole: int, fraction: int) -> NDArray[np.int64]:
    """The stamp of each line if it is as wide; the place goes behind its bracket."""
    here.ok &= here.byte(-1) == ord("(")
    seconds = _seconds(here, whole)
    here.ok &= (here.byte(whole) == ord(".")) & (seconds <= MAX_SECONDS)
    here.at = here.at + (whole + 1)
    part = here.number(here.word(), fraction)
    here.ok &= here.byte(fraction) == ord(")")
    here.at = here.at + (fraction + 1)
    times = seconds * np.uint64(10**9) + part * np.uint64(10 ** (9 - fraction))
    return times.view(np.int64)


def _seconds(here: Cursor, whole: int) -> Words:
    """The whole seconds of each line; computed once for neighbours that write the same."""
    first, last = here.word(), here.word(whole - 8)
    changes = np.flatnonzero((first[1:] != first[:-1]) | (last[1:] != last[:-1])) + 1
    starts = np.concatenate(([0], changes))
    one = here.only(starts)
    seconds = one.number(first[starts], 8)
    if whole > 8:
        seconds = seconds * np.uint64(10 ** (whole - 8)) + one.number(one.word(8), whole - 8)
    counts = np.diff(starts, append=len(first))
    here.ok &= np.repeat(one.ok, counts)
    return np.repeat(seconds, counts)


def _end(here: Cursor, stops: NDArray[np.int64]) -> NDArray[np.int64]:
    """Where the data of each line end: before blanks, a letter for the direction, and blanks before that."""
    word = here.before(stops)
    last, former, third = (
        (word >> np.uint64(shift)).astype(np.uint8) for shift in (56, 48, 40)
    )  # most lines end with data, or with one blank and a letter
    letter = _LETTERS[last] & _BLANK[former]
    if not (_BLANK[last] | (letter & _BLANK[third])).any():
        return stops - 2 * letter.astype(np.int64)
    stops = _before_blanks(here, stops)
    letter = _LETTERS[here.byte(stops - 1 - here.at)] & _BLANK[here.byte(stops - 2 - here.at)]
    return np.where(letter, _before_blanks(here, stops - letter), stops) if letter.any() else stops


def _before_blanks(here: Cursor, stops: NDArray[np.int64]) -> NDArray[np.int64]:
    while True:
        blank = _BLANK[here.byte(stops - 1 - here.at)] & (stops > here.at)
        if not blank.any():
            return stops
        stops = stops - blank


KERNEL: Final = Kernel("candump_kernel", "candump")
LANES: Final = Lanes((lane,), KERNEL)
