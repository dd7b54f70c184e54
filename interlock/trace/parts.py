"""Long text files in parts, so that a file of any length needs memory for its frames only."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from itertools import accumulate
from pathlib import Path
from typing import Final

from interlock.trace.bulk import tabulate
from interlock.trace.lane import Lanes
from interlock.trace.lines import LONGEST, Lines, Table, split
from interlock.trace.model import Ledger, slim
from interlock.trace.packed import Source
from interlock.trace.pile import Pile
from interlock.trace.reading import Oddity, Reading, Rejected, grouped
from interlock.trace.shape import Grammar
from interlock.trace.text import TimeBase, dated, part_of

__all__ = ["PART", "in_parts", "parts_of", "read_parts"]

PART: Final = 1 << 24
"""Bytes of a file that are read together."""


def parts_of(stream: Source, first: bytes) -> Iterator[bytes]:
    """What a stream holds after its first bytes, and these, in parts that end with a line.

    Of a line longer than a part only the beginning is kept: no format has such lines.
    """
    rest = first
    while more := stream.read(PART):
        cut = rest.rfind(b"\n") + 1
        if cut:
            yield rest[:cut]
        rest = rest[cut:] + more
        if len(rest) > PART + LONGEST and b"\n" not in rest:
            rest = rest[: LONGEST + 1]
    yield rest


def read_parts(
    name: str,
    path: Path,
    parts: Iterable[bytes],
    grammar: Grammar,
    notes: Callable[[bytes], tuple[str, ...]] = lambda _: (),
    lanes: Lanes | None = None,
) -> Reading:
    """Reads a file whose lines each stand for themselves; `notes` says what its first part lets assume."""
    said: list[tuple[str, ...]] = []

    def table_of(lines: Lines) -> Table:
        if not said:
            said.append(notes(lines.text))
        return tabulate(lines, grammar, lanes)

    whole = in_parts(name, parts, table_of)
    return dated(path, replace(whole, notes=said[0]), TimeBase.GUESS)


def in_parts(name: str, parts: Iterable[bytes], table_of: Callable[[Lines], Table]) -> Reading:
    """The reading of all parts, in each of which `table_of` reads all lines; what the stamps count is not asked."""
    readings: list[Reading] = []
    pile, lines_before = Pile("line"), 0
    for part in parts:
        lines = split(part)
        reading = part_of(name, lines, table_of(lines))
        columns = reading.columns
        if lines_before:
            columns = replace(columns, places=columns.places + lines_before)
        pile.add(columns, reading.channels)
        readings.append(replace(reading, columns=slim(columns)))
        lines_before += len(lines)
    return _joined(readings, pile)


def _joined(readings: list[Reading], pile: Pile) -> Reading:
    """The parts one after another."""
    frames = [0, *accumulate(one.ledger.frames for one in readings)]
    lines = [0, *accumulate(one.ledger.lines_or_objects for one in readings)]
    rejected = grouped(
        _moved(piece, row, line)
        for one, row, line in zip(readings, frames, lines, strict=False)
        for piece in one.rejected
    )
    ledgers = [one.ledger for one in readings]
    return replace(
        readings[0],
        ledger=Ledger(
            lines[-1],
            frames[-1],
            sum(one.non_frames for one in ledgers),
            sum(one.rejected for one in ledgers),
        ),
        rejected=rejected,
        oddities=_oddities(readings, frames, lines),
        channels=tuple(pile.channels),
        resolution_ns=min(one.resolution_ns for one in readings),
        columns=pile.columns(),
    )


def _moved(piece: Rejected, row: int, line: int) -> Rejected:
    return replace(
        piece,
        place=piece.place + line,
        last=piece.last + line,
        row=piece.row + row,
        last_row=piece.last_row + row,
    )


def _oddities(readings: list[Reading], frames: list[int], lines: list[int]) -> tuple[Oddity, ...]:
    found: dict[str, Oddity] = {}
    for one, row, line in zip(readings, frames, lines, strict=False):
        for odd in one.oddities:
            first = found.get(odd.what)
            if first is None:
                found[odd.what] = replace(
                    odd, place=odd.place + line, first_row=odd.first_row + row, last_row=odd.last_row + row
                )
            else:
                found[odd.what] = replace(first, count=first.count + odd.count, last_row=odd.last_row + row)
    return tuple(found[what] for what in sorted(found))
