"""Tables of samples, as oscilloscopes and data loggers write them: one row an instant, one column a signal."""

from decimal import Decimal, InvalidOperation
from fractions import Fraction
from math import ceil
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.quantity import same_unit
from interlock.errors import LogError
from interlock.trace.bulk import TORN
from interlock.trace.inputs import CsvColumns, LogFile
from interlock.trace.lines import Lines, split
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.reading import Reading, Rejected, Sampled, grouped
from interlock.trace.sampled import before_and_after, sampled_reading

__all__ = ["read", "row_times_ns"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

_EXACT_NS: Final = 1 << 51
"""Up to here a stamp parsed as a float and rounded is the nearest nanosecond to what is written."""
_NOT_EXACT: Final = (
    "a time that cannot be told to the nanosecond: give stamps that count from the start of the record"
)
_LATER: Final = "whatever changed here is not known from here on"
_NUMERIC: Final = b'0123456789+-.eE \t"naifNAIF'


def read(file: LogFile, text: bytes) -> Reading:
    """Reads every row below the headings; a cell that is empty is a sample that is not known."""
    plan = file.columns
    if plan is None:
        raise LogError(
            f"{file.path}: a table of samples, and nothing says which column is what; name its columns "
            "(time or period, and each signal)"
        )
    lines = split(text)
    columns = _numbered(file, plan, lines)
    _check_units(file, plan, lines, columns)
    rows, reasons = _rows(lines, plan, max(columns.values()))
    cells, bad = _cells(lines, rows, list(columns.values()), plan)
    reasons.update(bad)
    keep = np.array([row not in bad for row in rows.tolist()], np.bool_)
    rows, cells = rows[keep], cells[keep]
    if not len(rows):
        first = min(reasons, default=-1)
        raise LogError(
            f"{file.path}: no row of samples in it"
            + (f"; line {first + 1}: {reasons[first]}" if reasons else "")
        )
    values = dict(zip(columns, cells.T, strict=True))
    times, width = _times(file, plan, lines, rows, values.pop("", None), columns.get("", 0))
    held, places = {name: one.copy() for name, one in values.items()}, rows + 1
    if plan.changes_only:
        times, held = before_and_after(times, width, held)
        places = np.repeat(places, 2)[1:]
    group = Sampled(file.message, times, held, plan.units, continuous=plan.changes_only)
    count = len(reasons)
    return sampled_reading(
        "table",
        (group,),
        places,
        Ledger(len(lines), len(rows), len(lines) - len(rows) - count, count),
        rejected=_rejected(reasons, rows, changes_only=plan.changes_only),
        resolution_ns=width,
        notes=("the table does not say when its record began",),
    )


def _numbered(file: LogFile, plan: CsvColumns, lines: Lines) -> dict[str, int]:
    """The columns to read, from 0; the time column under the empty name."""
    headings: list[str] = []
    if plan.heading_row and plan.heading_row <= len(lines):
        line = _text(lines, plan.heading_row)
        headings = [cell.strip().strip('"').strip() for cell in line.split(plan.delimiter)]
    wanted = {name: column for name, column in plan.signals.items() if file.wants(name)}
    if plan.time is not None:
        wanted[""] = plan.time
    found = {}
    for name, column in wanted.items():
        if isinstance(column, int) and column >= 1:
            found[name] = column - 1
        elif headings.count(str(column)) == 1:
            found[name] = headings.index(str(column))
        else:
            raise LogError(
                f"{file.path}:{plan.heading_row}: not exactly one column is headed {column!r}; "
                f"the headings are {', '.join(headings) or 'none'}"
            )
    return found


def _check_units(file: LogFile, plan: CsvColumns, lines: Lines, columns: dict[str, int]) -> None:
    """LogError if the line with the units states another one than is expected of a signal, if any, or of the time."""
    if not plan.unit_row or plan.unit_row > len(lines):
        return
    cells = [
        cell.strip().strip('"').strip("[]() ") for cell in _text(lines, plan.unit_row).split(plan.delimiter)
    ]
    expected = {**plan.units, "": plan.time_unit}
    for name, column in columns.items():
        if name not in expected:
            continue
        stated = _written(cells[column]) if column < len(cells) else ""
        if not same_unit(stated, expected[name]):
            what = f"signal {name}" if name else "the time"
            raise LogError(
                f"{file.path}:{plan.unit_row}: {what} is in {stated!r} by this line and in {expected[name]!r} "
                "by the bench description; mend the one that is wrong"
            )


def _written(unit: str) -> str:
    """A unit of time as tables write it out."""
    return {"second": "s", "seconds": "s", "sec": "s"}.get(unit.lower(), unit)


def _text(lines: Lines, number: int) -> str:
    """A line, from 1, without the mark that some programs put before the first."""
    return lines.line(number - 1).decode("latin-1").removeprefix("ï»¿").rstrip("\r")


def _rows(lines: Lines, plan: CsvColumns, widest: int) -> tuple[Ints, dict[int, str]]:
    """Lines that may hold samples, and why others from the first row on do not."""
    rows = np.arange(min(plan.first_row - 1, len(lines)), len(lines))
    rows = rows[lines.stops[rows] > lines.starts[rows]]
    if not len(rows):
        return rows, {}
    buffer = np.frombuffer(lines.text, np.uint8)
    marks = np.flatnonzero(buffer == ord(plan.delimiter))
    fields = np.searchsorted(marks, lines.stops[rows]) - np.searchsorted(marks, lines.starts[rows]) + 1
    usual = int(np.bincount(fields).argmax())
    strange = np.isin(
        np.arange(256),
        list(_NUMERIC + plan.delimiter.encode() + plan.decimal.encode() + b"\r\n"),
        invert=True,
    )
    odd = np.searchsorted(np.flatnonzero(strange[buffer]), lines.stops[rows]) - np.searchsorted(
        np.flatnonzero(strange[buffer]), lines.starts[rows]
    )
    reasons = {}
    for bad, why in (
        (fields <= widest, "too few columns"),
        (odd > 0, "characters that no number has"),
        (fields != usual, "not as many columns as the other rows"),
    ):
        reasons.update(dict.fromkeys(rows[bad].tolist(), why))
    if not lines.complete and int(rows[-1]) == len(lines) - 1:
        reasons[len(lines) - 1] = TORN
    return rows[~np.isin(rows, list(reasons))], reasons


def _cells(lines: Lines, rows: Ints, columns: list[int], plan: CsvColumns) -> tuple[Floats, dict[int, str]]:
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


def _times(
    file: LogFile, plan: CsvColumns, lines: Lines, rows: Ints, written: Floats | None, column: int
) -> tuple[Ints, int]:
    """Stamps of the rows in nanoseconds, and how coarse they are."""
    if written is None:
        filled = np.cumsum((lines.stops > lines.starts)[plan.first_row - 1 :])
        return row_times_ns(filled[rows - (plan.first_row - 1)] - 1, plan.period_s or Fraction(0)), 1
    scaled = written * plan.unit_ns
    if not np.isfinite(scaled).all() or float(np.abs(scaled).max()) >= _EXACT_NS:
        raise LogError(f"{file.path}: {_NOT_EXACT}")
    ends = {_last_place_ns(lines.line(int(row)), column, plan) for row in (*rows[:500], *rows[-500:])}
    return np.rint(scaled).astype(np.int64), max(ends)


def _last_place_ns(line: bytes, column: int, plan: CsvColumns) -> int:
    """What one step of the last written digit is worth, rounded up to nanoseconds."""
    cell = line.split(plan.delimiter.encode())[column].strip().strip(b'"').replace(b",", b".")
    try:
        exponent = Decimal(cell.decode("ascii").strip()).as_tuple().exponent
    except InvalidOperation:
        return 1
    return max(1, ceil(Fraction(10) ** int(exponent) * plan.unit_ns))


def row_times_ns(index: Ints, period_s: Fraction) -> Ints:
    """The instants of samples taken at an even rate, rounded down to nanoseconds; exact for any ratio."""
    top, bottom = (period_s * 10**9).as_integer_ratio()
    if len(index) and int(index[-1]) * top >= 1 << 62:
        return np.array([int(one) * top // bottom for one in index], np.int64)
    return index * top // bottom


def _rejected(reasons: dict[int, str], rows: Ints, *, changes_only: bool) -> tuple[Rejected, ...]:
    """Each lost row; of a table of changes it leaves every signal in doubt to the end, from the row before it on."""
    pieces = []
    for line in sorted(reasons):
        why, before = reasons[line], int(np.searchsorted(rows, line))
        kind = QualityKind.TRUNCATED if why == TORN else QualityKind.UNREADABLE
        until_end = why == TORN or changes_only
        row = max(2 * before - 2, 0) if changes_only else before
        told = f"{why}; {_LATER}" if changes_only and why != TORN else why
        pieces.append(Rejected(line + 1, line + 1, 1, row, row, told, kind, until_end=until_end))
    return grouped(pieces)
