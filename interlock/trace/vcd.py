"""Value change dumps (IEEE 1364-2005, clause 18): the changes of each wire, and that nothing changed between them."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import chain
from math import ceil
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace.held import Held, Instants, Rows
from interlock.trace.inputs import LogFile
from interlock.trace.lines import Lines, split
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.pieces import allowed, begun, finer, too_many
from interlock.trace.reading import Reading, Rejected, Sampled, grouped
from interlock.trace.sampled import sampled_reading
from interlock.trace.vcd_header import header_of, looks_like
from interlock.trace.vcd_lines import TORN, Codes, Taken, take

__all__ = ["looks_like", "read"]

LONGEST_NS: Final = 10**18
_HEAD: Final = 1 << 25  # bytes; no definitions are longer
_LATER: Final = "whatever changed here is not known from here on"

Ints = NDArray[np.int64]


@dataclass(slots=True)
class _Dump:
    """What is known of a dump while its lines come."""

    held: Held
    step_s: Fraction
    lines: int = 0
    read: int = 0  # lines that hold a stamp or a value
    last_ns: int = 0
    last: int | None = None  # stamp, as written
    rejected: tuple[Rejected, ...] = field(default=())  # `row` counts the instants before the piece
    count: int = 0


def read(file: LogFile, parts: Iterable[bytes]) -> Reading:
    """Reads every line, and keeps two rows for each instant at which a wanted wire changed, see `Held`.

    The stamps count from the start of the dump. A line that is lost leaves every wire in doubt to the end.
    """
    head, rest = begun(finer(parts), lambda part: b"$enddefinitions" in part, _HEAD)
    first = split(head)
    header = header_of(file, first)
    codes = Codes(header.wires)
    step_ns = max(1, ceil(header.step_s * 10**9))
    most = allowed(named=bool(file.wanted))
    dump = _Dump(Held(len(codes.names), step_ns), header.step_s)
    for lines, begin in _pieces(first, header.body_row, rest):
        taken = take(lines, begin, codes, dump.last)
        _add(dump, taken)
        dump.last = int(taken.stamps[-1]) if len(taken.stamps) else dump.last
        dump.lines += len(lines)
        if too_many(2 * dump.held.kept, len(codes.names), most=most):
            raise LogError(
                f"{file.path}:{dump.lines}: more than {dump.held.kept} changes up to here; save a shorter dump, or "
                "name only the wires that are needed, in a bench file under shows, sources"
            )
    if not dump.held.instants:
        raise LogError(f"{file.path}: a value change dump without any change; give one with changes in it")
    rows = dump.held.rows()
    values = dict(zip(codes.names, rows.values, strict=True))
    group = Sampled(file.message, rows.times_ns, values, dict.fromkeys(values, ""), continuous=True)
    return sampled_reading(
        "vcd",
        (group,),
        rows.places,
        Ledger(dump.lines, dump.read, dump.lines - dump.read - dump.count, dump.count),
        rejected=tuple(_placed(piece, rows) for piece in dump.rejected),
        resolution_ns=step_ns,
        notes=("the dump does not say when its record began",),
    )


def _pieces(first: Lines, body: int, rest: Iterator[bytes]) -> Iterator[tuple[Lines, int]]:
    """The lines of each piece, and the first row of them that is no definition."""
    yield from chain([(first, body)], ((split(part), 0) for part in rest))


def _add(dump: _Dump, taken: Taken) -> None:
    """Take in what a piece holds."""
    stamps, rows = taken.stamps, taken.stamp_rows
    early = len(taken.change_rows) and not (len(rows) and rows[0] < taken.change_rows[0])
    if early and not dump.held.instants:  # values before any stamp are those at zero
        stamps = np.concatenate([np.zeros(1, np.uint64), stamps])
        rows = np.concatenate([taken.change_rows[:1], rows])
        dump.read -= 1
    dump.read += len(rows) + len(taken.change_rows)
    before = dump.held.instants
    times, late = _times_ns(dump, stamps)
    bad = [(int(rows[at]), "time stamp beyond thirty years", before + at) for at in late.tolist()]
    dump.read -= len(bad)
    bad += [(row, why, before + int(np.searchsorted(rows, row))) for row, why in taken.rejected]
    bad.sort()
    wanted = taken.wires >= 0
    dump.held.add(
        Instants(
            times,
            rows + (dump.lines + 1),
            np.searchsorted(rows, taken.change_rows[wanted], side="right") - 1,
            taken.wires[wanted],
            taken.values[wanted],
            np.array([instants - 1 - before for _, _, instants in bad], np.int64),
        )
    )
    dump.count += len(bad)
    dump.rejected = grouped((*dump.rejected, *(_piece(dump.lines + row + 1, why, n) for row, why, n in bad)))


def _times_ns(dump: _Dump, stamps: NDArray[np.uint64]) -> tuple[Ints, Ints]:
    """Nanoseconds of each stamp, rounded down, and which stamps cannot be: these get the time before them."""
    top, bottom = (dump.step_s * 10**9).as_integer_ratio()  # powers of ten, one of them 1
    most = min(((LONGEST_NS + 1) * bottom - 1) // top, (1 << 64) - 1)
    late = stamps > np.uint64(most)
    times = (np.where(late, 0, stamps) // np.uint64(bottom)).astype(np.int64) * top
    if late.any():
        last = np.where(late, 0, np.arange(1, len(stamps) + 1))
        times = np.concatenate([[dump.last_ns], times])[np.maximum.accumulate(last)]
    if len(times):
        dump.last_ns = int(times[-1])
    return times, np.flatnonzero(late)


def _piece(line: int, why: str, instants: int) -> Rejected:
    kind = QualityKind.TRUNCATED if why == TORN else QualityKind.UNREADABLE
    told = why if why == TORN else f"{why}; {_LATER}"
    return Rejected(line, line, 1, instants, instants, told, kind, until_end=True)


def _placed(piece: Rejected, rows: Rows) -> Rejected:
    """The same before the row of the last instant before it, as values at it are in doubt already."""
    return replace(piece, row=rows.row_of(piece.row - 1), last_row=rows.row_of(piece.last_row - 1))
