"""Classic data frames of a candump log read many at once, whatever their widths; all other lines are left."""

import re
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.cursor import Cursor, of_hex
from interlock.trace.lane import Rows, by_kernel, fastest, model_of, put
from interlock.trace.lines import Lines, Table
from interlock.trace.shape import MAX_SECONDS, Kind, Shape

__all__ = ["KERNEL", "LANE", "lane"]

_STAMP: Final = re.compile(rb"\((\d{8,12})\.(\d{1,8})\)[ \t]")
_NAME: Final = re.compile(rb"[!-~]+")
_CHANNELS: Final = 16
_HASH: Final = np.uint64(ord("#"))
_LETTERS: Final = np.isin(np.arange(256), list(b"RT"))
_BLANK: Final = np.isin(np.arange(256), list(b" \t"))


def lane(lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
    """Put those of these lines into the table that are plain frames, stamped as the first one is; which ones."""
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
    word = here.blanks()
    short = (word >> np.uint64(24) & np.uint64(0xFF)) == _HASH
    here.ok &= short | (here.byte(8) == _HASH)
    digits = np.where(short, word << np.uint64(40) | np.uint64(0x3030303030), word)
    value, wrong = of_hex(digits, 8)
    ident = value.astype("<u4").byteswap()
    here.ok &= ~wrong & (ident <= np.where(short, np.uint32(0x7FF), np.uint32(0x1FFFFFFF)))
    here.at = here.at + np.where(short, 4, 9)
    size = _end(here, lines.stops[rows]) - here.at
    here.ok &= (size >= 0) & (size <= 16) & (size & 1 == 0)
    size = np.clip(size, 0, 16)
    data, wrong = of_hex(here.word(), np.minimum(size, 8).astype(np.uint8))
    more, also = of_hex(here.word(8), np.maximum(size - 8, 0).astype(np.uint8))
    here.ok &= ~(wrong | also)
    data |= more << np.uint64(32)
    forms = [
        Shape(Kind.FRAME, (0, 1), (1, 1 + len(model[2])), extended=not std, length=length, channel=name)
        for name in names
        for std in (False, True)
        for length in range(9)
    ]
    which = (channel * 2 + short) * 9 + (size >> 1)
    put(table, rows, here.ok, forms, which, times_ns, ident, data)
    return here.ok


def _stamps(here: Cursor, whole: int, fraction: int) -> NDArray[np.int64]:
    """The stamp of each line if it is as wide; the place goes behind its bracket."""
    here.ok &= here.byte(-1) == ord("(")
    seconds = here.number(here.word(), 8)
    if whole > 8:
        seconds = seconds * np.uint64(10 ** (whole - 8)) + here.number(here.word(8), whole - 8)
    here.ok &= (here.byte(whole) == ord(".")) & (seconds <= MAX_SECONDS)
    here.at = here.at + (whole + 1)
    part = here.number(here.word(), fraction)
    here.ok &= here.byte(fraction) == ord(")")
    here.at = here.at + (fraction + 1)
    times = seconds * np.uint64(10**9) + part * np.uint64(10 ** (9 - fraction))
    return times.view(np.int64)


def _end(here: Cursor, stops: NDArray[np.int64]) -> NDArray[np.int64]:
    """Where the data of each line end: before blanks, a letter for the direction, and blanks before that."""
    stops = _before_blanks(here, stops)
    letter = _LETTERS[here.byte(stops - 1 - here.at)] & _BLANK[here.byte(stops - 2 - here.at)]
    if not letter.any():
        return stops
    return np.where(letter, _before_blanks(here, stops - letter), stops)


def _before_blanks(here: Cursor, stops: NDArray[np.int64]) -> NDArray[np.int64]:
    while True:
        blank = _BLANK[here.byte(stops - 1 - here.at)] & (stops > here.at)
        if not blank.any():
            return stops
        stops = stops - blank


KERNEL: Final = by_kernel("candump", re.compile(rb"[ \t]*\(\d{1,10}\.(\d{1,9})\)"), wide_first=True)
LANE: Final = fastest(lane, KERNEL)
