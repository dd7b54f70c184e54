"""Tables of samples, as oscilloscopes and data loggers write them: one row an instant, one column a signal."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from itertools import chain
from math import ceil
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from interlock.bench.quantity import same_unit
from interlock.errors import LogError
from interlock.trace.bulk import TORN
from interlock.trace.inputs import CsvColumns, LogFile
from interlock.trace.lines import Lines, split
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.pieces import allowed, begun, finer, too_many
from interlock.trace.reading import Reading, Rejected, Sampled, grouped
from interlock.trace.sampled import before_and_after, sampled_reading
from interlock.trace.table_cells import BEFORE, as_long, grid, headings, last_cells, numbers, rows_of, usual

__all__ = ["read", "row_times_ns"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
_Number = TypeVar("_Number", np.int64, np.float64)

_EXACT_NS: Final = 1 << 51
"""Up to here a stamp parsed as a float and rounded is the nearest nanosecond to what is written."""
_NOT_EXACT: Final = (
    "a time that cannot be told to the nanosecond: give stamps that count from the start of the record"
)
_LATER: Final = "whatever changed here is not known from here on"
_SHOWN: Final = 1000  # lines that show how many columns a row of the table has
_ENDS: Final = 500  # rows at both ends whose times show how coarse they are
_HEAD: Final = 1 << 25  # bytes in which the first rows are looked for


def read(file: LogFile, parts: Iterable[bytes]) -> Reading:
    """Reads every row below the headings; a cell that is empty is a sample that is not known.

    Rows of another number of columns than most of the first ones are lost.
    """
    plan = file.columns
    if plan is None:
        raise LogError(
            f"{file.path}: a table of samples, and nothing says which column is what; name its columns "
            "(time or period, and each signal)"
        )
    top = max(plan.first_row, plan.heading_row, plan.unit_row)
    head, rest = _head(finer(parts), top + _SHOWN)
    first = split(head)
    columns = _numbered(file, plan, first)
    _check_units(file, plan, first, columns)
    found = _Found(file, plan, columns, usual(grid(first, plan.delimiter), plan.first_row, _SHOWN))
    most = allowed(named=False)
    for lines in chain([first], map(split, rest)):
        _add(found, lines)
        if too_many(found.rows, len(columns), most=most):
            raise LogError(
                f"{file.path}:{found.lines}: {found.rows} rows of samples up to here, and the memory of this machine "
                "has no room for more; give a shorter record, or name fewer columns"
            )
    return _reading(found)


@dataclass(slots=True, eq=False)
class _Found:
    """What is known of a table while its lines come."""

    file: LogFile
    plan: CsvColumns
    columns: dict[str, int]  # the time column under the empty name
    usual: int  # columns of a row
    lines: int = 0
    rows: int = 0
    filled: int = 0  # lines from the first row on that are not empty
    times: list[Ints] = field(default_factory=list)
    places: list[Ints] = field(default_factory=list)
    values: dict[str, list[Floats]] = field(default_factory=dict)
    rejected: tuple[Rejected, ...] = ()
    count: int = 0
    widths: set[int] = field(default_factory=set)  # what one step of a time is worth, of the first rows
    ends: list[int] = field(default_factory=list)  # and of the last ones
    tail: list[bytes] = field(default_factory=list)  # the cells that end the last rows so far


def _head(parts: Iterator[bytes], lines: int) -> tuple[bytes, Iterator[bytes]]:
    """The first parts together, which hold so many lines if the file does."""
    seen = 0

    def enough(part: bytes) -> bool:
        nonlocal seen
        seen += part.count(b"\n")
        return seen >= lines

    return begun(parts, enough, _HEAD)


def _add(found: _Found, lines: Lines) -> None:
    """Take in what these lines hold."""
    plan, begin = found.plan, max(0, found.plan.first_row - 1 - found.lines)
    names, columns = list(found.columns), list(found.columns.values())
    cut = grid(lines, plan.delimiter)
    lines = cut.lines
    found.tail = [*found.tail, *last_cells(cut, plan, begin)][-BEFORE:]
    rows, reasons = rows_of(cut, plan, begin, columns, found.usual, torn=not as_long(found.tail, plan))
    cells, bad = numbers(lines, rows, columns, plan)
    reasons.update(bad)
    if bad:
        keep = ~np.isin(rows, list(bad))
        rows, cells = rows[keep], cells[keep]
    if plan.time is None:
        filled = np.cumsum((lines.stops > lines.starts)[begin:]) + found.filled
        found.times.append(row_times_ns(filled[rows - begin] - 1, plan.period_s or Fraction(0)))
        found.filled = int(filled[-1]) if len(filled) else found.filled
    else:
        found.times.append(_times_ns(found, lines, rows, cells[:, names.index("")]))
    for at, name in enumerate(names):
        if name:
            found.values.setdefault(name, []).append(cells[:, at].copy())
    found.places.append(rows + (found.lines + 1))
    _reject(found, reasons, rows)
    found.rows += len(rows)
    found.lines += len(lines)


def _reading(found: _Found) -> Reading:
    file, plan = found.file, found.plan
    if not found.rows:
        first = next(iter(found.rejected), None)
        why = f"; line {first.place}: {first.why.removesuffix(f'; {_LATER}')}" if first else ""
        raise LogError(f"{file.path}: no row of samples in it{why}")
    times, places = _emptied(found.times), _emptied(found.places)
    width = 1 if plan.time is None else max(found.widths | set(found.ends))
    held = {name: _emptied(blocks) for name, blocks in found.values.items()}
    if plan.changes_only:
        times, held = before_and_after(times, width, held)
        places = np.repeat(places, 2)[1:]
    group = Sampled(file.message, times, held, plan.units, continuous=plan.changes_only)
    return sampled_reading(
        "table",
        (group,),
        places,
        Ledger(found.lines, found.rows, found.lines - found.rows - found.count, found.count),
        rejected=found.rejected,
        resolution_ns=width,
        notes=("the table does not say when its record began",),
    )


def _emptied(blocks: "list[NDArray[_Number]]") -> "NDArray[_Number]":
    """The blocks one after another; they are let go."""
    whole = np.concatenate(blocks)
    blocks.clear()
    return whole


def _numbered(file: LogFile, plan: CsvColumns, lines: Lines) -> dict[str, int]:
    """The columns to read, from 0; the time column under the empty name."""
    headed: list[str] = []
    if plan.heading_row and plan.heading_row <= len(lines):
        headed = headings(_text(lines, plan.heading_row), plan.delimiter)
    wanted = {name: column for name, column in plan.signals.items() if file.wants(name)}
    if plan.time is not None:
        wanted[""] = plan.time
    found = {}
    for name, column in wanted.items():
        if isinstance(column, int) and column >= 1:
            found[name] = column - 1
        elif headed.count(str(column)) == 1:
            found[name] = headed.index(str(column))
        else:
            raise LogError(
                f"{file.path}:{plan.heading_row}: not exactly one column is headed {column!r}; "
                f"the headings are {', '.join(headed) or 'none'}"
            )
    return found


def _check_units(file: LogFile, plan: CsvColumns, lines: Lines, columns: dict[str, int]) -> None:
    """LogError if the line with the units states another one than is expected of a signal, if any, or of the time."""
    if not plan.unit_row or plan.unit_row > len(lines):
        return
    cells = [cell.strip("[]() ") for cell in headings(_text(lines, plan.unit_row), plan.delimiter)]
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


def _times_ns(found: _Found, lines: Lines, rows: Ints, written: Floats) -> Ints:
    """Stamps of the rows in nanoseconds; how coarse they are is told by the first rows of the table and the last."""
    if not len(rows):
        return rows
    scaled = written * found.plan.unit_ns
    if not np.isfinite(scaled).all() or float(np.abs(scaled).max()) >= _EXACT_NS:
        raise LogError(f"{found.file.path}: {_NOT_EXACT}")
    column = found.columns[""]
    for row in rows[: max(0, _ENDS - found.rows)].tolist():
        found.widths.add(_last_place_ns(lines.line(row), column, found.plan))
    last = [_last_place_ns(lines.line(row), column, found.plan) for row in rows[-_ENDS:].tolist()]
    found.ends = (found.ends + last)[-_ENDS:]
    return np.rint(scaled).astype(np.int64)


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


def _reject(found: _Found, reasons: dict[int, str], rows: Ints) -> None:
    """Each lost row; of a table of changes it leaves every signal in doubt to the end, from the row before it on."""
    changes, pieces = found.plan.changes_only, []
    for line in sorted(reasons):
        why, before = reasons[line], found.rows + int(np.searchsorted(rows, line))
        kind = QualityKind.TRUNCATED if why == TORN else QualityKind.UNREADABLE
        until_end = why == TORN or changes
        row = max(2 * before - 2, 0) if changes else before
        told = f"{why}; {_LATER}" if changes and why != TORN else why
        place = found.lines + line + 1
        pieces.append(Rejected(place, place, 1, row, row, told, kind, until_end=until_end))
    found.rejected = grouped((*found.rejected, *pieces))
    found.count += len(reasons)
