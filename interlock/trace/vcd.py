"""Value change dumps (IEEE 1364-2005, clause 18): the changes of each wire, and that nothing changed between them."""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil
from typing import Final

import numpy as np

from interlock.errors import LogError
from interlock.trace.inputs import LogFile
from interlock.trace.lines import Lines, split
from interlock.trace.model import Ledger, QualityKind
from interlock.trace.reading import Reading, Rejected, Sampled, grouped
from interlock.trace.sampled import before_and_after, filled, sampled_reading
from interlock.trace.vcd_header import Wire, header_of, looks_like

__all__ = ["looks_like", "read"]

LONGEST_NS: Final = 10**18
_SECTIONS: Final = re.compile(rb"\$(dumpvars|dumpall|dumpon|dumpoff|end|comment)\b.*")
_LATER: Final = "whatever changed here is not known from here on"
_TORN: Final = "the file ends inside this line"


@dataclass(slots=True)
class _Changes:
    """What the lines below the definitions were found to hold."""

    stamps: list[int] = field(default_factory=list)  # in steps of the timescale
    lines: list[int] = field(default_factory=list)  # of each stamp
    where: dict[str, list[int]] = field(
        default_factory=dict
    )  # for each signal the stamps at which it changed
    what: dict[str, list[float]] = field(default_factory=dict)
    rejected: list[tuple[int, int, str]] = field(default_factory=list)  # line, stamps before it, why
    read: int = 0  # lines that hold a stamp or a value


def read(file: LogFile, text: bytes) -> Reading:
    """Reads every line; two rows for each instant of change, see `before_and_after`.

    The stamps count from the start of the dump. A line that is lost leaves every wire in doubt to the end.
    """
    lines = split(text)
    header = header_of(file, lines)
    changes = _changes(lines, header.body_row, header.wires)
    if not changes.stamps:
        raise LogError(f"{file.path}: a value change dump without any change; give one with changes in it")
    times = _times_ns(changes, header.step_s)
    step_ns = max(1, ceil(header.step_s * 10**9))
    events = {
        name: (np.array(changes.where[name], np.int64), np.array(changes.what[name], np.float64))
        for name in changes.where
    }
    rows, values = before_and_after(times, step_ns, filled(len(times), events))
    units = dict.fromkeys(values, "")
    group = Sampled(file.message, rows, values, units, continuous=True)
    places = np.repeat(np.array(changes.lines, np.int64), 2)[1:]
    rejected = _rejected(changes)
    count = len(changes.rejected)
    return sampled_reading(
        "vcd",
        (group,),
        places,
        Ledger(len(lines), changes.read, len(lines) - changes.read - count, count),
        rejected=rejected,
        resolution_ns=step_ns,
        notes=("the dump does not say when its record began",),
    )


def _changes(lines: Lines, first: int, wires: dict[bytes, Wire]) -> _Changes:
    found = _Changes(where={w.name: [] for w in wires.values()}, what={w.name: [] for w in wires.values()})
    wanted = {code: wire for code, wire in wires.items() if wire.wanted}
    for name in [w.name for w in wires.values() if not w.wanted]:
        found.where.pop(name, None)
        found.what.pop(name, None)
    torn = -1 if lines.complete else len(lines) - 1
    for row in range(first, len(lines)):
        why = _TORN if row == torn else _take(found, lines.line(row).strip(), row, wires, wanted)
        if why:
            found.rejected.append((row, len(found.stamps), why))
    return found


def _take(found: _Changes, line: bytes, row: int, wires: dict[bytes, Wire], wanted: dict[bytes, Wire]) -> str:
    """One line read; why it could not be, if so."""
    if not line or _SECTIONS.fullmatch(line):
        return ""
    head = line[:1]
    if head == b"#":
        if not line[1:].isdigit() or len(line) > 20:
            return "a time that is no number"
        found.stamps.append(int(line[1:]))
        found.lines.append(row + 1)
        found.read += 1
        return ""
    value, code = (line[:1], line[1:].strip()) if head in b"01xXzZ" else _long(line)
    wire = wires.get(code)
    if wire is None:
        return "neither a time nor a change of a wire that the dump defines"
    number = wire.number(value)
    if number is None:
        return "a value that its wire cannot have"
    if not found.stamps:
        found.stamps.append(0)
        found.lines.append(row + 1)
    if code in wanted:
        found.where[wire.name].append(len(found.stamps) - 1)
        found.what[wire.name].append(number)
    found.read += 1
    return ""


def _long(line: bytes) -> tuple[bytes, bytes]:
    """Value and code of a change of several bits or of a real number."""
    words = line.split()
    return (words[0], words[1]) if len(words) == 2 and line[:1] in b"bBrR" else (b"", b"")


def _times_ns(changes: _Changes, step_s: Fraction) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Nanoseconds of each stamp, rounded down; a stamp that cannot be becomes a finding and the time before it."""
    top, bottom = (step_s * 10**9).as_integer_ratio()
    times, last = [], 0
    for index, stamp in enumerate(changes.stamps):
        time = stamp * top // bottom
        if time > LONGEST_NS:
            changes.rejected.append((changes.lines[index] - 1, index, "time stamp beyond thirty years"))
            changes.read -= 1
            time = last
        times.append(time)
        last = time
    changes.rejected.sort()
    return np.array(times, np.int64)


def _rejected(changes: _Changes) -> tuple[Rejected, ...]:
    """Each lost line; the row is that of the last instant before it, as values at it are in doubt already."""
    pieces = []
    for line, stamps, why in changes.rejected:
        row = max(2 * stamps - 2, 0)
        kind = QualityKind.TRUNCATED if why == _TORN else QualityKind.UNREADABLE
        told = why if why == _TORN else f"{why}; {_LATER}"
        pieces.append(Rejected(line + 1, line + 1, 1, row, row, told, kind, until_end=True))
    return grouped(pieces)
