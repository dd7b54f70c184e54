"""The cells of a table's rows: where they stand, and the numbers in those that are wanted."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.bulk import TORN
from interlock.trace.inputs import CsvColumns
from interlock.trace.lines import Lines

__all__ = ["BEFORE", "Grid", "as_long", "grid", "headings", "last_cells", "numbers", "rows_of", "usual"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

_NUMERIC: Final = b'0123456789+-.eE \t"naifNAIF'
_QUOTE: Final = ord('"')
BEFORE: Final = 8  # rows whose last cells are written alike if the recorder always writes so
_UNCLOSED: Final = "a quote that does not close"
_CONTROL: Final = np.array([(code < 32 and chr(code) not in "\t\r\n") or code == 127 for code in range(256)])


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Lines cut at their delimiters; those inside of quoted cells are blanked (RFC 4180, section 2)."""

    lines: Lines
    marks: Ints  # where the delimiters stand
    unclosed: Ints  # rows with a cell whose quote does not close

    def fields(self, rows: Ints) -> Ints:
        """The number of cells of each of these lines."""
        stops, starts = self.lines.stops[rows], self.lines.starts[rows]
        return np.searchsorted(self.marks, stops) - np.searchsorted(self.marks, starts) + 1

    def within(self, places: Ints, columns: Sequence[int]) -> Ints:
        """Those of these places of the text, ascending, that lie in one of the columns, from 0."""
        starts = self.lines.starts[np.searchsorted(self.lines.starts, places, side="right") - 1]
        column = np.searchsorted(self.marks, places) - np.searchsorted(self.marks, starts)
        return places[np.isin(column, columns)]


def grid(lines: Lines, delimiter: str) -> Grid:
    """The lines cut into cells."""
    mark = ord(delimiter)
    text = np.frombuffer(lines.text, np.uint8)
    marks, quotes = np.flatnonzero(text == mark), np.flatnonzero(text == _QUOTE)
    odd = _quoted(lines, marks, quotes)
    if not len(odd):
        return Grid(lines, marks, odd)
    changed, unclosed = bytearray(lines.text), []
    pattern = _quoted_cell(delimiter)
    for row in odd.tolist():
        line = pattern.sub(
            lambda found: found[1] + found[2].replace(delimiter.encode(), b" "), lines.line(row)
        )
        changed[lines.starts[row] : lines.stops[row]] = line
        if any(_open(cell.strip()) for cell in line.split(delimiter.encode())):
            unclosed.append(row)
    lines = replace(lines, text=bytes(changed))
    marks = np.flatnonzero(np.frombuffer(lines.text, np.uint8) == mark)
    return Grid(lines, marks, np.array(unclosed, np.int64))


def _quoted(lines: Lines, marks: Ints, quotes: Ints) -> Ints:
    """Lines in which a delimiter may stand inside of a quoted cell, or a quote does not close."""
    if not len(quotes):
        return quotes
    before = np.searchsorted(quotes, lines.starts)
    odd = (np.searchsorted(quotes, lines.stops) - before) % 2 == 1
    row = np.searchsorted(lines.starts, marks, side="right") - 1
    inside = (np.searchsorted(quotes, marks) - before[row]) % 2 == 1
    odd[row[inside]] = True
    return np.flatnonzero(odd)


def _quoted_cell(delimiter: str) -> "re.Pattern[bytes]":
    mark = re.escape(delimiter.encode())
    return re.compile(rb'(^|%b)([ \t]*"(?:[^"]|"")*"[ \t]*)(?=%b|$)' % (mark, mark))


def _open(cell: bytes) -> bool:
    """Whether a cell begins with a quote and is no quoted cell."""
    return cell.startswith(b'"') and re.fullmatch(rb'"(?:[^"]|"")*"', cell) is None


def headings(line: str, delimiter: str) -> list[str]:
    """The cells of one line without their quotes and the blanks about them."""
    cells = line.split(delimiter)
    whole = "\r" not in line and len(line) < csv.field_size_limit()  # the library refuses any other line
    if whole and '"' in line and line.count('"') % 2 == 0:
        cells = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    return [cell.strip().strip('"').strip() for cell in cells]


def usual(cut: Grid, first_row: int, count: int) -> int:
    """The number of cells that most of so many lines from that row on (from 1) have; 0 if all are empty."""
    lines, begin = cut.lines, min(first_row - 1, len(cut.lines))
    rows = np.arange(begin, min(begin + count, len(lines)))
    rows = rows[lines.stops[rows] > lines.starts[rows]]
    return int(np.bincount(cut.fields(rows)).argmax()) if len(rows) else 0


def last_cells(cut: Grid, plan: CsvColumns, begin: int) -> list[bytes]:
    """The last cells of the last rows that hold anything, as many as `as_long` needs."""
    lines = cut.lines
    rows = np.arange(min(begin, len(lines)), len(lines))
    rows = rows[lines.stops[rows] > lines.starts[rows]][-BEFORE:]
    return [lines.line(row).rpartition(plan.delimiter.encode())[2].strip() for row in rows.tolist()]


def as_long(cells: Sequence[bytes], plan: CsvColumns) -> bool:
    """Whether the last of these cells, each of which ends a row, has as many decimals as the others, or is 0 or 1.

    Then a file that ends there without a line end has lost none of its digits.
    """
    cells = cells[-BEFORE:]
    if len(cells) < BEFORE or all(cell in (b"0", b"1") for cell in cells):
        return len(cells) == BEFORE
    decimals = {len(cell.partition(plan.decimal.encode())[2]) for cell in cells}
    return len(decimals) == 1 and 0 not in decimals


def rows_of(
    cut: Grid, plan: CsvColumns, begin: int, columns: Sequence[int], fields: int, *, torn: bool
) -> tuple[Ints, dict[int, str]]:
    """Lines that may hold samples in these columns, and why others from the first row on do not.

    What stands in other columns is not looked at, but for characters that no text has. `torn`: a last line that has
    no line end may have lost something.
    """
    lines = cut.lines
    rows = np.arange(min(begin, len(lines)), len(lines))
    rows = rows[lines.stops[rows] > lines.starts[rows]]
    if not len(rows):
        return rows, {}
    found, text = cut.fields(rows), np.frombuffer(lines.text, np.uint8)
    known = list(_NUMERIC + plan.delimiter.encode() + plan.decimal.encode() + b"\r\n")
    strange = np.isin(np.arange(256), known, invert=True)
    controls = np.flatnonzero(_CONTROL[text])
    letters = cut.within(np.flatnonzero(strange[text]), columns)
    reasons = {}
    for bad, why in (
        (found <= max(columns), "too few columns"),
        (_any_of(lines, rows, controls), "characters that no text has"),
        (_any_of(lines, rows, letters), "characters that no number has"),
        (found != fields, "not as many columns as the other rows"),
        (np.isin(rows, cut.unclosed), _UNCLOSED),
    ):
        reasons.update(dict.fromkeys(rows[bad].tolist(), why))
    if not lines.complete and int(rows[-1]) == len(lines) - 1 and torn:
        reasons[len(lines) - 1] = TORN
    return rows[~np.isin(rows, list(reasons))] if reasons else rows, reasons


def _any_of(lines: Lines, rows: Ints, places: Ints) -> NDArray[np.bool_]:
    """Which of these lines hold one of the places."""
    inside: NDArray[np.bool_] = np.searchsorted(places, lines.stops[rows]) > np.searchsorted(
        places, lines.starts[rows]
    )
    return inside


def numbers(lines: Lines, rows: Ints, columns: list[int], plan: CsvColumns) -> tuple[Floats, dict[int, str]]:
    """The numbers in these columns, [row, column], and the rows in which one is none."""
    texts = [
        lines.text[start:stop] for start, stop in zip(lines.starts[rows], lines.stops[rows], strict=True)
    ]
    if plan.decimal == ",":
        texts = [text.replace(b",", b".") for text in texts]
    if not texts:
        return np.zeros((0, len(columns))), {}
    try:
        block = np.loadtxt(
            texts, delimiter=plan.delimiter, usecols=columns, ndmin=2, comments=None, encoding="latin-1"
        )
        return block, {}
    except ValueError:
        return _one_by_one(texts, rows, columns, plan)


def _one_by_one(
    texts: list[bytes], rows: Ints, columns: list[int], plan: CsvColumns
) -> tuple[Floats, dict[int, str]]:
    block, bad = np.full((len(texts), len(columns)), np.nan), {}
    mark = plan.delimiter.encode()
    for at, (row, text) in enumerate(zip(rows.tolist(), texts, strict=True)):
        cells = text.split(mark)
        for column, number in enumerate(columns):
            cell = cells[number].strip().strip(b'"').strip()
            try:
                block[at, column] = float(cell) if cell else np.nan
            except ValueError:
                bad[row] = "a cell that is no number"
    return block, bad
