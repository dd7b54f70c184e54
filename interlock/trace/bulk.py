"""Many text lines at once: each line becomes one row of a table, however odd the line is."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace import columns
from interlock.trace.forms import COMMENT, are
from interlock.trace.lane import MARGIN, Lane, Lanes
from interlock.trace.lines import LONGEST, Lines, Table
from interlock.trace.shape import BadField, Grammar, Kind, Shape, fields_of

__all__ = ["TORN", "tabulate"]

BLOCK: Final = 32768  # lines handled together: small enough for the cache
PATIENCE: Final = 8  # vain tries to find lines that are alike; the rest of a block goes one by one
WORTH_IT: Final = 6  # rows from which handling them together pays
MANY: Final = 4096  # lines of one length from which it is faster to read them together than by a lane
FEW: Final = 16  # parts of a block: where fewer lines than one part are alike, they are left
TRIES: Final = 4  # times to find such, and runs of a lane over what it left before
TORN: Final = "the file ends inside this line"

Ints = NDArray[np.int64]
_NO_FIELDS: Final = Shape(Kind.COMMENT)


def tabulate(lines: Lines, grammar: Grammar, lanes: Lanes | None = None) -> Table:
    """Every line read by the grammar; what it refuses is marked with its reason.

    `lanes` read what they can of the lines before, as the grammar would: all of them if they are compiled, else
    those that are not of a length that many have.
    """
    table = Table.empty(len(lines))
    source = _Source(lines, table)
    lengths = lines.stops - lines.starts
    table.reject(np.flatnonzero(lengths > LONGEST), f"longer than {LONGEST} bytes")
    if lanes is not None and lanes.compiled(lines):
        rows = np.flatnonzero(lengths <= LONGEST)
        rows = rows[~lanes.kernel(lines, table, rows)]
    else:
        plain = lanes.plain if lanes is not None else ()
        rows = _read_usual(source, lengths, grammar, MANY if plain else WORTH_IT)
        for lane in plain:
            rows = _left_by(lane, source, rows)
    for alike in _alike_in_length(lengths, rows):
        _read_block(source, alike, grammar)
    if _torn(lines, table, grammar):
        table.reject(len(lines) - 1, TORN)
    return table


def _read_usual(source: "_Source", lengths: Ints, grammar: Grammar, many: int) -> Ints:
    """Read the lines of each length that so many have, as far as many of them are alike; the rows that are left."""
    left = [np.zeros(0, np.int64)]
    for alike in _alike_in_length(lengths, np.arange(len(lengths))):
        if len(alike) < many:
            left.append(alike)
            continue
        for start in range(0, len(alike), BLOCK):
            left.extend(_read_most(source, alike[start : start + BLOCK], grammar))
    return np.sort(np.concatenate(left))


def _read_most(source: "_Source", rows: Ints, grammar: Grammar) -> Iterator[Ints]:
    """Read rows of one length that are like the first, and so on while this reads many; the rows that are left."""
    lines = source.lines
    length = int(lines.stops[rows[0]] - lines.starts[rows[0]])
    inside = lines.starts[rows] + (length + columns.AHEAD) <= len(lines.text)
    yield rows[~inside]
    rows, worth = rows[inside], max(WORTH_IT, len(rows) // FEW)
    for _ in range(TRIES):
        if len(rows) < worth:
            break
        rest = _read_together(source, rows, grammar(lines.line(int(rows[0]))))
        if len(rows) - len(rest) < worth:
            yield rest[:1]
            rest = rest[1:]
        rows = rest
    yield rows


def _left_by(lane: Lane, source: "_Source", rows: Ints) -> Ints:
    """The rows that the lane does not read."""
    starts, stops = source.lines.starts[rows], source.lines.stops[rows]
    inside = (starts >= MARGIN) & (stops + MARGIN <= len(source.lines.text))
    left = [rows[~inside]]
    chosen = rows[inside]
    for start in range(0, len(chosen), BLOCK):
        block = chosen[start : start + BLOCK]
        for _ in range(TRIES):
            if len(block) < WORTH_IT:
                break
            read = lane(source.lines, source.table, block)
            if not read.any():
                break
            block = block[~read]
        left.append(block)
    return np.sort(np.concatenate(left))


@dataclass(frozen=True, slots=True, eq=False)
class _Source:
    """Lines to read, and the table to write them into."""

    lines: Lines
    table: Table


def _torn(lines: Lines, table: Table, grammar: Grammar) -> bool:
    """Whether the last line lacks its line end, so that it may have lost characters, however well it reads.

    A comment or header is what it is without one, if there is anything in it; so is a frame of which all is there.
    """
    if lines.complete:
        return False
    last = len(lines) - 1
    line = lines.line(last)
    if are(table.codes[last:], COMMENT)[0]:
        return not line.strip()
    shape = grammar(line)
    return bool(table.reason_of[last]) or isinstance(shape, str) or not _whole(line, shape)


def _whole(line: bytes, shape: Shape) -> bool:
    """Whether no digit of the frame can be missing: the line tells how many bytes it has, or it cannot have more."""
    if not shape.length:
        return False
    first, stop = shape.payload[0][0], shape.payload[-1][1]
    if shape.encoding == "dec" and stop == len(line.rstrip()):
        return False
    marks = line[:first].count(b"#")  # after one or two of which all that comes is payload (candump)
    return not marks or shape.length == (8 if marks == 1 else 64)


def _alike_in_length(lengths: Ints, rows: Ints) -> Iterator[Ints]:
    """Those of these rows with one length of line, in ascending order."""
    part = np.minimum(lengths[rows], LONGEST + 1).astype(np.uint16)
    order = np.argsort(part, kind="stable")
    cuts = np.flatnonzero(np.diff(part[order])) + 1
    for alike in np.split(rows[order], cuts):
        if len(alike) and lengths[alike[0]] <= LONGEST:
            yield alike


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
    ends = text[:, shape.bus[0]] if shape.bus != (0, 0) else None
    if not good.all():
        rows, ident, payload, times = rows[good], ident[good], payload[good], times[good]
        ends = ends[good] if ends is not None else None
    table = source.table
    table.note(rows, shape, ends)
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
