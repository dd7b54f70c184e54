"""Many text lines at once: each line becomes one row of a table, however odd the line is."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace import columns
from interlock.trace.lines import LONGEST, Lines, Table
from interlock.trace.shape import BadField, Grammar, Kind, Shape, fields_of

__all__ = ["TORN", "tabulate"]

BLOCK: Final = 32768  # lines handled together: small enough for the cache
PATIENCE: Final = 8  # vain tries to find lines that are alike; the rest of a block goes one by one
WORTH_IT: Final = 6  # rows from which handling them together pays
TORN: Final = "the file ends inside this line"

Ints = NDArray[np.int64]
_NO_FIELDS: Final = Shape(Kind.COMMENT)


def tabulate(lines: Lines, grammar: Grammar) -> Table:
    """Every line read by the grammar; what it refuses is marked with its reason."""
    table = Table.empty(len(lines))
    source = _Source(lines, table)
    lengths = lines.stops - lines.starts
    table.reject(np.flatnonzero(lengths > LONGEST), f"longer than {LONGEST} bytes")
    for rows in _alike_in_length(lengths):
        _read_block(source, rows, grammar)
    if _torn(lines, table):
        table.reject(len(lines) - 1, TORN)
    return table


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
    """Lines to read, and the table to write them into."""

    lines: Lines
    table: Table


def _torn(lines: Lines, table: Table) -> bool:
    """Whether the last line lacks its line end: it may have lost characters, however well it reads.

    A comment or header is what it is without one, if there is anything in it.
    """
    if lines.complete:
        return False
    last = len(lines) - 1
    return table.kinds()[last] != Kind.COMMENT or not lines.line(last).strip()


def _alike_in_length(lengths: Ints) -> Iterator[Ints]:
    """Rows of one length of line, at most BLOCK together, in ascending order."""
    for start in range(0, len(lengths), BLOCK):
        part = np.minimum(lengths[start : start + BLOCK], LONGEST + 1).astype(np.uint16)
        order = np.argsort(part, kind="stable")
        cuts = np.flatnonzero(np.diff(part[order])) + 1
        for rows in np.split(order + start, cuts):
            if lengths[rows[0]] <= LONGEST:
                yield rows


def _read_block(source: _Source, rows: Ints, grammar: Grammar) -> None:
    """Read rows of one length: together while that pays, the rest one by one."""
    failures, lines = 0, source.lines
    beyond = len(lines.text) - (int(lines.stops[rows[0]] - lines.starts[rows[0]]) + columns.AHEAD)
    while len(rows) and lines.starts[rows[-1]] > beyond:
        _read_one(source, int(rows[-1]), grammar)
        rows = rows[:-1]
    while len(rows) >= WORTH_IT and failures < PATIENCE:
        shape = grammar(source.lines.line(int(rows[0])))
        rest = _read_together(source, rows, shape)
        failures += len(rows) - len(rest) < WORTH_IT
        if len(rest) == len(rows):
            _read_one(source, int(rows[0]), grammar)
            rest = rows[1:]
        rows = rest
    for row in rows:
        _read_one(source, int(row), grammar)


def _read_together(source: _Source, rows: Ints, shape: Shape | str) -> Ints:
    """Read all rows that are like the first one, whose shape is given; the others are handed back."""
    if isinstance(shape, Shape) and shape.kind is not Kind.COMMENT:
        return _read_alike(source, rows, shape)
    if source.lines.line(int(rows[0])) == source.lines.line(int(rows[1])):
        return _read_same(source, rows, shape)
    return rows


def _read_one(source: _Source, row: int, grammar: Grammar) -> None:
    """Read one line by itself."""
    line, table = source.lines.line(row), source.table
    shape = grammar(line)
    if isinstance(shape, str):
        table.reject(row, shape)
        return
    if shape.kind is Kind.COMMENT:
        table.note(row, shape)
        return
    try:
        fields = fields_of(line, shape)
    except BadField as error:
        table.reject(row, str(error))
        return
    table.note(row, shape)
    table.times_ns[row] = fields.time_ns
    table.idents[row] = fields.ident
    table.data[row] = int.from_bytes(fields.payload[:8], "little")
    if len(fields.payload) > 8:
        table.wide.append((np.array([row]), np.frombuffer(fields.payload, np.uint8)[None, :]))


def _read_same(source: _Source, rows: Ints, what: Shape | str) -> Ints:
    """Treat all rows that are the same as the first one as a comment or reject them; the others are handed back."""
    model = source.lines.line(int(rows[0]))
    text = columns.gather_text(source.lines.text, source.lines.starts[rows], len(model))
    same = columns.matching(text, model, _NO_FIELDS)
    if isinstance(what, str):
        source.table.reject(rows[same], what)
    else:
        source.table.note(rows[same], what)
    return rows[~same]


def _read_alike(source: _Source, rows: Ints, shape: Shape) -> Ints:
    """Read all rows that have this shape and values that can be; the other rows are handed back."""
    model = source.lines.line(int(rows[0]))
    text = columns.gather_text(source.lines.text, source.lines.starts[rows], len(model))
    alike = columns.matching(text, model, shape)
    if not alike.all():
        found = np.flatnonzero(alike)
        good = _read_matching(source, rows[found], text[found], shape, model)
        alike[found[~good]] = False
        return rows[~alike]
    good = _read_matching(source, rows, text, shape, model)
    return rows[:0] if good.all() else rows[~good]


def _read_matching(
    source: _Source, rows: Ints, text: columns.Text, shape: Shape, model: bytes
) -> NDArray[np.bool_]:
    """Read rows whose text is of this shape; whether the values in each can be."""
    ident, wrong_ident = _idents(text, shape)
    payload, wrong_payload = _payloads(text, shape, model)
    seconds = columns.decimal(text, shape.seconds)
    good = ~(wrong_ident | wrong_payload) & (ident <= shape.largest_ident) & (seconds <= shape.largest_whole)
    for span in shape.loose_hex:
        good &= ~columns.hexadecimal(text, span)[1]
    step = np.uint64(10 ** (shape.decimals - shape.fraction[1] + shape.fraction[0]))
    times = seconds * np.uint64(10**shape.decimals) + columns.decimal(text, shape.fraction) * step
    if not good.all():
        rows, ident, payload, times = rows[good], ident[good], payload[good], times[good]
    table = source.table
    table.note(rows, shape)
    table.times_ns[rows] = times.view(np.int64) + shape.added_ns
    table.idents[rows] = ident
    _pay(table, rows, payload)
    return good


def _idents(text: columns.Text, shape: Shape) -> tuple[Ints, NDArray[np.bool_]]:
    if shape.ident_base == 16:
        return columns.hexadecimal(text, shape.ident)
    return columns.decimal(text, shape.ident).view(np.int64), np.zeros(len(text), np.bool_)


def _payloads(text: columns.Text, shape: Shape, model: bytes) -> tuple[columns.Bytes, NDArray[np.bool_]]:
    none_wrong = np.zeros(len(text), np.bool_)
    if not shape.length:
        return np.zeros((len(text), 0), np.uint8), none_wrong
    if shape.encoding == "base64":
        return columns.base64_bytes(text, shape.payload[0], shape.length, model)
    if shape.encoding == "hex":
        return columns.hex_bytes(text, shape.payload)
    values = np.stack([columns.decimal(text, span) for span in shape.payload], axis=1)
    too_large = np.zeros(len(text), np.bool_)
    too_large |= (values > 255).any(axis=1)
    return values.astype(np.uint8), too_large


def _pay(table: Table, rows: Ints, payload: columns.Bytes) -> None:
    """Write payloads, one row of the block each."""
    if payload.shape[1] > 8:
        table.wide.append((rows, payload))
    if payload.shape[1] == 8 and payload.flags.c_contiguous:
        table.data[rows] = payload.view("<u8")[:, 0]
        return
    eight = np.zeros((len(rows), 8), np.uint8)
    eight[:, : payload.shape[1]] = payload[:, :8]
    table.data[rows] = eight.view("<u8")[:, 0]
