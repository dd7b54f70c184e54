"""The definitions of a value change dump: its step of time and its wires."""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from interlock.errors import LogError
from interlock.trace.inputs import LogFile, plain_name
from interlock.trace.lines import Lines

__all__ = ["Header", "Wire", "header_of", "looks_like"]

_UNITS: Final = {b"s": 0, b"ms": 3, b"us": 6, b"ns": 9, b"ps": 12, b"fs": 15}
_SCALE: Final = re.compile(rb"(1|10|100)\s*(s|ms|us|ns|ps|fs)")
_LARGEST: Final = 1023  # bits of the largest number that a float can be
_LONGEST: Final = 10_000
"""Lines; no header of a recorder is longer."""


@dataclass(frozen=True, slots=True)
class Wire:
    """One variable of the dump."""

    name: str
    bits: int
    real: bool
    wanted: bool

    def number(self, value: bytes) -> float | None:
        """The value as a number, NaN if unknown or undriven (x, z), infinite beyond 1023 bits; None if it cannot be."""
        text = value.lower()
        if text[:1] == b"r":
            try:
                return float(text[1:]) if self.real and b"_" not in text else None
            except ValueError:
                return None
        digits = text.removeprefix(b"b")
        if self.real or not digits or len(digits) > self.bits or digits.strip(b"01xz"):
            return None
        if digits.strip(b"01"):
            return math.nan
        number = int(digits, 2)
        return float(number) if number.bit_length() <= _LARGEST else math.inf


@dataclass(frozen=True, slots=True)
class Header:
    """What the definitions say."""

    step_s: Fraction
    wires: dict[bytes, Wire]  # by their code
    body_row: int  # first line below the definitions


def looks_like(text: bytes) -> bool:
    """Whether the content begins as a value change dump does."""
    head = text[:4096]
    return head.lstrip()[:1] == b"$" and any(
        word in head for word in (b"$timescale", b"$var", b"$enddefinitions")
    )


def header_of(file: LogFile, lines: Lines) -> Header:
    """The definitions; LogError if the time step or every wire is missing, or a wanted wire is."""
    body, words = _words(file, lines)
    scale: Fraction | None = None
    variables: list[_Variable] = []
    scopes: list[str] = []
    for section in _sections(words):
        match section:
            case [b"$timescale", *rest] if found := _SCALE.fullmatch(b"".join(rest)):
                scale = Fraction(int(found[1]), 10 ** _UNITS[found[2]])
            case [b"$scope", _, name, *_]:
                scopes.append(name.decode("latin-1"))
            case [b"$upscope", *_]:
                scopes = scopes[:-1]
            case [b"$var", kind, bits, code, name, *more] if bits.isdigit() and len(bits) < 6:
                whole = name + more[0] if more and more[0].startswith(b"[") else name
                plain, _, index = whole.decode("latin-1").partition("[")
                full = ".".join([*scopes, plain])
                variables.append(_Variable(code, plain, full, index, int(bits), kind == b"real"))
    if scale is None:
        raise LogError(f"{file.path}: a value change dump without a readable $timescale; export it again")
    return Header(scale, _named(file, variables), body)


def _words(file: LogFile, lines: Lines) -> tuple[int, list[bytes]]:
    words: list[bytes] = []
    for row in range(min(len(lines), _LONGEST)):
        line = lines.line(row)
        words += line.split()
        if b"$enddefinitions" in line:
            return row + 1, words
    raise LogError(f"{file.path}: a value change dump whose definitions do not end; export it again")


def _sections(words: list[bytes]) -> list[list[bytes]]:
    sections: list[list[bytes]] = [[]]
    for word in words:
        if word == b"$end":
            sections.append([])
        else:
            sections[-1].append(word)
    return sections


@dataclass(frozen=True, slots=True)
class _Variable:
    """A variable as the dump defines it."""

    code: bytes
    plain: str
    full: str  # with its scopes
    index: str  # of a bit, if it is one of several
    bits: int
    real: bool


def _named(file: LogFile, variables: list[_Variable]) -> dict[bytes, Wire]:
    """The wires by code; a name that several bear is told apart by its scope, and then by the index of its bit."""
    plain, full = [one.plain for one in variables], [one.full for one in variables]
    wires = {}
    for one in variables:
        alone = full.count(one.full) == 1
        called = (
            one.plain if plain.count(one.plain) == 1 else one.full if alone else f"{one.full}_{one.index}"
        )
        called = plain_name(called)
        wires[one.code] = Wire(called, one.bits, one.real, file.wants(called))
    _refuse_alike(file, [wire.name for wire in wires.values() if wire.wanted])
    lost = file.lacks(wire.name for wire in wires.values())
    if lost or not wires:
        there = ", ".join(wire.name for wire in wires.values()) or "none"
        raise LogError(
            f"{file.path}: no wire named {', '.join(sorted(lost)) or 'at all'}; the dump has: {there}"
        )
    return wires


def _refuse_alike(file: LogFile, names: list[str]) -> None:
    for name in names:
        if names.count(name) > 1:
            raise LogError(
                f"{file.path}: two wires are both called {name}; name them apart where they are recorded"
            )
