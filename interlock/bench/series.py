"""Guards in series, read from the wiring: which contacts stand in one path to a logic input (ISO/TR 24119).

A path is what must be closed together for the input to be on. Guards of one path can hide each other's faults: the
one opened next resets what the logic has seen of the first.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import product
from typing import Final, assert_never

from interlock.bench.expr import And, Const, Expr, Name, Not, Or, names
from interlock.bench.kind import Kind
from interlock.bench.models import Bench

__all__ = ["Cabling", "Series", "cabling_in", "series_at", "series_in"]

_MOST_PATHS: Final = 512


class Cabling(StrEnum):
    """How the lines of guards in series run, as far as the bench file's cables tell."""

    OWN = "own"  # each guard has cables of its own: star
    COMMON = "common"  # lines of several guards run in one cable: branch or loop
    UNSAID = "unsaid"


@dataclass(frozen=True, slots=True)
class Series:
    """The guards whose contacts stand in series at one logic device."""

    logic: str
    guards: tuple[str, ...]
    single: tuple[str, ...]  # of these guards one contact serves every input: nothing can compare two
    other_stops: tuple[str, ...]  # stop devices that are no guards, in series with them


def series_in(bench: Bench, of: Mapping[str, Kind]) -> tuple[Series, ...]:
    """For each device, the guards that share a path to one of its inputs; `of`: the kind of every device."""
    return tuple(one for device in bench.devices if (one := series_at(bench, device, of)) is not None)


def cabling_in(bench: Bench, guards: tuple[str, ...], of: Mapping[str, Kind]) -> Cabling:
    """Whether the guards share a cable; not said if of some guard no line, or only some of its contacts, is in one."""
    cables = {name: {line.partition(".")[0] for line in cable.lines} for name, cable in bench.cables.items()}
    if any(len(devices & set(guards)) > 1 for devices in cables.values()):
        return Cabling.COMMON
    lines = {line for cable in bench.cables.values() for line in cable.lines}
    used = {port for expr in bench.wiring.values() for port in names(expr)}
    for guard in guards:
        contacts = {f"{guard}.{one}" for one in of[guard].outputs}
        if not contacts & used <= lines:
            return Cabling.UNSAID
    return Cabling.OWN


def series_at(bench: Bench, logic: str, of: Mapping[str, Kind]) -> Series | None:
    """The guards that share a path to an input of the device; None for fewer than two."""
    wired = {port: expr for port, expr in bench.wiring.items() if port.partition(".")[0] == logic}
    guards, stops = set[str](), set[str]()
    for expr in wired.values():
        for path in _paths(expr):
            devices = {port.partition(".")[0] for port in path}
            here = {one for one in devices if of[one].guard}
            if len(here) > 1:
                guards |= here
                stops |= {one for one in devices - here if of[one].demand is not None}
    if not guards:
        return None
    order = [one for one in bench.devices if one in guards]
    single = tuple(one for one in order if len(_contacts(one, wired)) < 2)
    return Series(logic, tuple(order), single, tuple(one for one in bench.devices if one in stops))


def _contacts(guard: str, wired: Mapping[str, Expr]) -> set[str]:
    """The contacts of the guard that reach some input."""
    return {port for expr in wired.values() for port in names(expr) if port.partition(".")[0] == guard}


def _paths(expr: Expr) -> list[frozenset[str]]:
    """Each set of closed contacts that switches the expression on; contacts that open it are left out.

    Beyond a size that no wiring by hand has, all contacts count as one path, which finds rather more than less.
    """
    found = list(_each_path(expr))
    return found if len(found) <= _MOST_PATHS else [names(expr)]


def _each_path(expr: Expr) -> Iterator[frozenset[str]]:
    match expr:
        case Const(truth):
            if truth:
                yield frozenset()
        case Name(name):
            yield frozenset({name})
        case Not():
            yield frozenset()
        case Or(parts):
            for part in parts:
                yield from _paths(part)
        case And(parts):
            sides = [_paths(part) for part in parts]
            many = 1
            for side in sides:
                many *= len(side)
            if many > _MOST_PATHS:
                yield names(expr)
                return
            for chosen in product(*sides):
                yield frozenset().union(*chosen)
        case _:
            assert_never(expr)
