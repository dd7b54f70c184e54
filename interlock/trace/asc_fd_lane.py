"""CAN FD frames of an ASC log in base hex read many at once, whatever their widths; all other lines are left."""

import re
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.asc_lane import bus_at, ident_at, stamp_at, way_at
from interlock.trace.columns import gather_text
from interlock.trace.cursor import Cursor
from interlock.trace.forms import FRAME, code_of
from interlock.trace.lane import Found, Rows, long_payloads, model_of
from interlock.trace.lines import Lines, Table
from interlock.trace.reading import LENGTHS_FD

__all__ = ["lane"]

_MODEL: Final = re.compile(rb"[ \t]*\d{1,7}\.(\d{1,8})[ \t]+CANFD[ \t]")
_HEX: Final = np.isin(np.arange(256), list(b"0123456789abcdefABCDEF"))
_BLANK: Final = np.isin(np.arange(256), list(b" \t"))
_FITS: Final = np.isin(np.arange(100), [size for size in LENGTHS_FD if size])
_REST: Final = 256  # characters behind the data of a line that are looked at; writers use some seventy
_DIGITS: Final = 12  # that a number there may have


def lane(lines: Lines, table: Table, rows: Rows) -> NDArray[np.bool_]:
    """Put those of these lines into the table that are plain CAN FD frames, stamped as the first is; which ones."""
    model = model_of(lines, rows, _MODEL)
    if model is None:
        return np.zeros(len(rows), np.bool_)
    here, digits = Cursor(lines.text, lines.starts[rows]), len(model[1])
    times = stamp_at(here, digits)
    here.sign(b"CANFD", here.blanks())
    read, some = here.ok, np.flatnonzero(here.ok)
    here, rows, times = here.only(some), rows[some], times[some]
    channel, names = bus_at(here)
    way_at(here)
    ident, extended = ident_at(here)
    for allowed in (b"01", b"01", b"0123456789abcdefABCDEF"):  # bit rate switch, state, code of the length
        here.blanks()
        here.ok &= np.isin(here.byte(), list(allowed))
        here.at = here.at + 1
    word = here.blanks()
    size = np.clip(here.token(word), 1, 2)
    length = here.number(word, size).astype(np.int64) % 100
    here.at = here.at + size
    here.ok &= _FITS[length] & (here.at + 3 * length <= lines.stops[rows])
    here.ok[here.ok] = _numbers(lines, here.at[here.ok] + 3 * length[here.ok], lines.stops[rows[here.ok]])
    data = long_payloads(lines.text, table, rows, here, length, apart=1)
    codes = code_of(channel.astype(np.int32), FRAME + extended, length.astype(np.int32))
    Found(names, codes, times, ident, data, digits).put(table, rows, here.ok)
    read[some] = here.ok
    return read


def _numbers(lines: Lines, starts: Rows, stops: Rows) -> NDArray[np.bool_]:
    """Where nothing stands but hexadecimal numbers, each behind blanks."""
    if not len(starts):
        return np.zeros(0, np.bool_)
    width = min(int((stops - starts).max()), _REST) + _DIGITS + 1
    text = gather_text(lines.text, starts, width)[:, :width]
    inside = np.arange(width) < (stops - starts)[:, None]
    digit = _HEX[text] & inside
    good: NDArray[np.bool_] = (stops - starts <= _REST) & ~digit[:, 0]
    good &= (digit | _BLANK[text] | ~inside).all(axis=1)
    run = digit
    for step in (1, 2, 4, 4, 1):  # longer and longer: 2, 4, 8, 12 and 13 digits in a row
        run = run[:, :-step] & run[:, step:]
    return good & ~run.any(axis=1)
