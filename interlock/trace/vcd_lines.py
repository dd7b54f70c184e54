"""The lines below the definitions of a value change dump, many at once: stamps, changes of wires, or neither."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.lines import Lines
from interlock.trace.vcd_header import Wire

__all__ = ["TORN", "Codes", "Taken", "take"]

TORN: Final = "the file ends inside this line"
_SECTIONS: Final = re.compile(rb"\$(dumpvars|dumpall|dumpon|dumpoff|end|comment)\b.*")
_DIGITS: Final = 19  # of a stamp at most
_CODE: Final = 7  # characters of a code that is looked up with many others
_EXACT: Final = 53  # bits of a number that a float holds exactly
_SCALARS: Final = b"01xXzZ"
_SIGHT: Final = 1 + _EXACT + 1 + _CODE  # characters of a vector that is read with many others
_KEEP: Final = np.array([(1 << 8 * size) - 1 for size in range(_CODE + 1)], np.uint64)
_TENS: Final = 10 ** np.arange(_DIGITS, dtype=np.uint64)[::-1]
_TWOS: Final = 2.0 ** np.arange(_EXACT)[::-1]

Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]
Words = NDArray[np.uint64]


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """What the lines of a part hold, each in ascending rows of the part."""

    stamp_rows: Ints
    stamps: Words  # in steps of the timescale
    change_rows: Ints
    wires: NDArray[np.int32]  # number of the wire that changed; negative: of none that is wanted
    values: NDArray[np.float64]
    rejected: list[tuple[int, str]]  # row, and why it is neither


class Codes:
    """The wires of a dump by code: those wanted are numbered in the order of their definitions."""

    def __init__(self, wires: Mapping[bytes, Wire]) -> None:
        self.wires = wires
        self.names = [wire.name for wire in wires.values() if wire.wanted]
        numbers = {name: number for number, name in enumerate(self.names)}
        self.number = {code: numbers.get(wire.name, -1) for code, wire in wires.items()}
        short = [code for code in wires if len(code) <= _CODE]
        short.sort(key=lambda code: int.from_bytes(code, "little"))
        self._keys = np.array([int.from_bytes(code, "little") for code in short], np.uint64)
        self._numbers = np.array([self.number[code] for code in short], np.int32)
        self._bits = np.array([0 if wires[code].real else wires[code].bits for code in short], np.int64)

    def find(self, keys: Words) -> tuple[NDArray[np.int32], Ints]:
        """The number of the wire of each code, and its bits; none for a wire of real numbers and an unknown code."""
        if not len(self._keys):
            return np.full(len(keys), -1, np.int32), np.zeros(len(keys), np.int64)
        at = np.minimum(np.searchsorted(self._keys, keys), len(self._keys) - 1)
        return self._numbers[at], np.where(self._keys[at] == keys, self._bits[at], 0)


class _Part:
    """The lines of a part, and what was found of each."""

    def __init__(self, lines: Lines, first: int, codes: Codes) -> None:
        self.codes = codes
        text = lines.text + bytes(_SIGHT)
        self.bytes = np.frombuffer(text, np.uint8)
        self.words: Words = np.ndarray((len(text) - 7,), "<u8", text, 0, (1,))
        self.starts, self.sizes = lines.starts, lines.stops - lines.starts
        self.first = self.bytes[self.starts]
        self.stamped = np.zeros(len(lines), np.bool_)
        self.stamps = np.zeros(len(lines), np.uint64)
        self.changed = np.zeros(len(lines), np.bool_)
        self.wires = np.zeros(len(lines), np.int32)
        self.values = np.zeros(len(lines))
        self.left = self.sizes > 0
        self.left[:first] = False

    def these(self, heads: bytes, most: int) -> Ints:
        """Rows that are left, begin with one of these characters and are no longer than so many."""
        table = np.zeros(256, np.bool_)
        table[list(heads)] = True
        return np.flatnonzero(self.left & table[self.first] & (self.sizes <= most) & (self.sizes > 1))

    def columns(self, rows: Ints, width: int) -> Bytes:
        """The first characters of these lines; [row, character]."""
        at = np.ndarray((len(self.bytes) - width + 1,), f"V{width}", self.bytes.data, 0, (1,))
        return at[self.starts[rows]].view(np.uint8).reshape(len(rows), width)

    def key(self, rows: Ints, at: int, sizes: "Ints | int") -> Words:
        """So many characters from a column on as a number."""
        key: Words = self.words[self.starts[rows] + at] & _KEEP[sizes]
        return key

    def put(self, rows: Ints, wires: NDArray[np.int32], values: "NDArray[np.float64]") -> None:
        """These lines are changes of these wires."""
        self.changed[rows], self.wires[rows], self.values[rows] = True, wires, values
        self.left[rows] = False


def take(lines: Lines, first: int, codes: Codes, last: int | None = None) -> Taken:
    """Every line from row `first` on; a last line without line end is torn if it may have lost anything.

    `last`: the stamp before these lines, if there is one.
    """
    part = _Part(lines, first, codes)
    _stamps(part)
    _scalars(part)
    _vectors(part)
    rejected = {}
    for row in np.flatnonzero(part.left).tolist():
        why = _one(part, row, lines.line(row).strip())
        if why:
            rejected[row] = why
    if (
        not lines.complete
        and len(lines) > first
        and not _ends(part, lines.line(len(lines) - 1).strip(), last)
    ):
        part.stamped[-1] = part.changed[-1] = False
        rejected[len(lines) - 1] = TORN
    stamps, changes = np.flatnonzero(part.stamped), np.flatnonzero(part.changed)
    return Taken(
        stamps,
        part.stamps[stamps],
        changes,
        part.wires[changes],
        part.values[changes],
        sorted(rejected.items()),
    )


def _ends(part: _Part, line: bytes, last: int | None) -> bool:
    """Whether a last line without line end says what it says with any more characters too.

    A time that has lost digits only ends the record the sooner, if it is no less than the one before.
    """
    if part.stamped[-1]:
        before = part.stamps[:-1][part.stamped[:-1]]
        last = int(before[-1]) if len(before) else last
        return last is not None and int(part.stamps[-1]) >= last
    if part.changed[-1]:
        code = _long(line)[1] or line[1:].strip()
        return [one for one in part.codes.wires if one.startswith(code)] == [code]
    return line == b"$end"


def _stamps(part: _Part) -> None:
    rows = part.these(b"#", 1 + _DIGITS)
    sizes = part.sizes[rows]
    for size in np.unique(sizes).tolist():
        alike = rows[sizes == size]
        digits = part.columns(alike, size)[:, 1:] - np.uint8(ord("0"))
        good = (digits < 10).all(axis=1)
        kept = alike[good]
        total = np.zeros(len(kept), np.uint64)
        for column, worth in zip(digits[good].T, _TENS[_DIGITS + 1 - size :], strict=True):
            total += column * worth
        part.stamps[kept], part.stamped[kept] = total, True
        part.left[kept] = False


def _scalars(part: _Part) -> None:
    rows = part.these(_SCALARS, 1 + _CODE)
    wires, bits = part.codes.find(part.key(rows, 1, part.sizes[rows] - 1))
    kept = rows[bits > 0]
    level = part.first[kept].astype(np.float64) - ord("0")
    level[level > 1] = np.nan
    part.put(kept, wires[bits > 0], level)


def _vectors(part: _Part) -> None:
    rows = part.these(b"bB", _SIGHT)
    sizes = part.sizes[rows]
    for size in np.unique(sizes[sizes > 3]).tolist():
        alike = rows[sizes == size]
        blanks = part.columns(alike, size) == ord(" ")
        places = np.where(blanks.any(axis=1), blanks.argmax(axis=1), 0)
        for place in np.unique(places).tolist():
            if 1 < place <= 1 + _EXACT and 0 < size - place - 1 <= _CODE:
                _alike(part, alike[places == place], place, size)


def _alike(part: _Part, rows: Ints, place: int, size: int) -> None:
    """Vectors whose blank stands in one column, in lines of one size."""
    wires, bits = part.codes.find(part.key(rows, place + 1, size - place - 1))
    digits = part.columns(rows, place)[:, 1:] - np.uint8(ord("0"))
    good = (bits >= place - 1) & (digits < 2).all(axis=1)
    part.put(rows[good], wires[good], digits[good] @ _TWOS[_EXACT + 1 - place :])


def _one(part: _Part, row: int, line: bytes) -> str:
    """One line of any form read; why it could not be, if so."""
    if not line or _SECTIONS.fullmatch(line):
        return ""
    if line[:1] == b"#":
        if not line[1:].isdigit() or len(line) > 1 + _DIGITS:
            return "a time that is no number"
        part.stamps[row], part.stamped[row] = int(line[1:]), True
        return ""
    value, code = (line[:1], line[1:].strip()) if line[:1] in _SCALARS else _long(line)
    wire = part.codes.wires.get(code)
    if wire is None:
        return "neither a time nor a change of a wire that the dump defines"
    number = wire.number(value)
    if number is None:
        return "a value that its wire cannot have"
    part.changed[row], part.wires[row], part.values[row] = True, part.codes.number[code], number
    return ""


def _long(line: bytes) -> tuple[bytes, bytes]:
    """Value and code of a change of several bits or of a real number."""
    words = line.split()
    return (words[0], words[1]) if len(words) == 2 and line[:1] in b"bBrR" else (b"", b"")
