"""A table of samples that nobody has described: what its first lines suggest, for a look and never for a verdict."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from interlock.trace.inputs import CsvColumns, plain_name

__all__ = ["Suggested", "suggested"]

_NUMBER: Final = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?")
_FORMS: Final = ((";", ","), (";", "."), ("\t", ","), ("\t", "."), (",", "."))  # separator and decimal sign
_WORDS: Final = {";": "semicolon", "\t": "tab", ",": "comma"}
_UNITS: Final = {
    "s": "s",
    "sec": "s",
    "second": "s",
    "seconds": "s",
    "ms": "ms",
    "us": "us",
    "µs": "us",
    "ns": "ns",
}
_TIME: Final = re.compile(r"(time|zeit|temps|tiempo|t)\b.*", re.IGNORECASE)
_LEAST_ROWS: Final = 3
_MOST_LINES: Final = 200

Rows = list[list[str]]


@dataclass(frozen=True, slots=True)
class Suggested:
    """A layout, and how a bench description would state it."""

    columns: CsvColumns
    words: str


def suggested(head: bytes) -> Suggested | None:
    """The layout of a table by its first bytes; None if they show no rows of numbers with a column of times."""
    text = head.decode("latin-1").removeprefix("ï»¿")
    lines = [line.rstrip("\r") for line in text.split("\n")[:-1][:_MOST_LINES]]
    for separator, decimal in _FORMS:
        rows = [_cells(line, separator) for line in lines]
        found = _laid_out(rows, separator, decimal)
        if found is not None:
            return found
    return None


def _cells(line: str, separator: str) -> list[str]:
    """The cells without quotes, up to the last that is not empty."""
    cells = [cell.strip().strip('"').strip() for cell in line.split(separator)]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _laid_out(rows: Rows, separator: str, decimal: str) -> Suggested | None:
    first = next((at for at in range(len(rows)) if _numbers(rows[at], decimal)), None)
    if first is None or len(rows) - first < _LEAST_ROWS:
        return None
    width = len(rows[first])
    if not all(len(row) == width and _numbers(row, decimal) for row in rows[first:]):
        return None
    headed = [at for at in range(max(0, first - 2), first) if len(rows[at]) >= width]
    above = [at for at in headed if not _numbers(rows[at], decimal)]
    headings = rows[above[0]][:width] if above else [""] * width
    units = rows[above[1]][:width] if len(above) == 2 else [_bracketed(name) for name in headings]
    time = _time_column(rows[first:], headings, units, decimal)
    if time is None:
        return None
    unit = _UNITS.get(units[time].strip("[]() ").lower(), "s")
    names = _names(headings)
    columns = CsvColumns(
        signals={
            name: at + 1
            for at, name in enumerate(names)
            if at != time and any(row[at] for row in rows[first:])
        },
        time=time + 1,
        time_unit=unit,
        delimiter=separator,
        decimal=decimal,
        heading_row=0,
        first_row=first + 1,
        units={name: units[at].strip("[]() ") for at, name in enumerate(names)},
    )
    return Suggested(columns, _in_words(columns, above, headings[time], len(above) == 2))


def _numbers(row: Sequence[str], decimal: str) -> bool:
    """Whether every cell is a number or empty, and two of them are numbers."""
    other = "," if decimal == "." else "."
    cells = [cell for cell in row if cell]
    return len(cells) >= 2 and all(_NUMBER.fullmatch(cell) and other not in cell for cell in cells)


def _bracketed(name: str) -> str:
    found = re.search(r"[\[(]([^\])]*)[\])]\s*$", name)
    return found[1].strip() if found else ""


def _time_column(rows: Rows, headings: Sequence[str], units: Sequence[str], decimal: str) -> int | None:
    """The first column that only grows and is named or measured as a time; if no column is named at all, the first."""
    for at, (name, unit) in enumerate(zip(headings, units, strict=True)):
        plain = unit.strip("[]() ").lower()
        named = bool(_TIME.fullmatch(name)) and (not plain or plain in _UNITS)
        if (named or plain in _UNITS or not (at or any(headings))) and _grows(
            [row[at] for row in rows], decimal
        ):
            return at
    return None


def _grows(cells: Sequence[str], decimal: str) -> bool:
    try:
        values = [float(cell.replace(decimal, ".")) for cell in cells]
    except ValueError:
        return False
    return all(later >= earlier for earlier, later in pairwise(values)) and values[-1] > values[0]


def _names(headings: Sequence[str]) -> list[str]:
    """A name for each column that a bench description can write, no two alike."""
    names: list[str] = []
    for at, heading in enumerate(headings, 1):
        name = plain_name(re.sub(r"[\[(][^\])]*[\])]\s*$", "", heading)) if heading else f"column_{at}"
        names.append(name if name not in names else f"{name}_{at}")
    return names


def _in_words(columns: CsvColumns, above: Sequence[int], heading: str, units: bool) -> str:
    return ", ".join(_entries(columns, above, heading, units=units))


def _entries(columns: CsvColumns, above: Sequence[int], heading: str, *, units: bool) -> Iterator[str]:
    yield f"time: {heading!r}" if heading else f"time: {columns.time}"
    if columns.time_unit != "s":
        yield f"time_unit: {columns.time_unit}"
    if columns.delimiter != ",":
        yield f"separator: {_WORDS[columns.delimiter]}"
    if columns.decimal != ".":
        yield "decimal: comma"
    if not above or above[0] != 0:
        yield f"headings: {above[0] + 1 if above else 0}"
    if units:
        yield f"units: {above[1] + 1}"
    if columns.first_row != (above[-1] + 2 if above else 1):
        yield f"first_row: {columns.first_row}"
