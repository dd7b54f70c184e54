"""Shorts between control lines that run in one cable, whatever devices they belong to: one for each two of them.

Lines are at supply potential or not; two that touch are both on as soon as one of them is (from memory: ISO
13849-2:2012, Table D.4, short circuit between any two conductors).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from interlock.bench.expr import Expr, Name, Or
from interlock.bench.kind import Fault, Kind
from interlock.bench.models import Bench, Cable

__all__ = ["CableFault", "cable_faults", "line_words", "named_by_kinds"]

_SOURCE: Final = "ISO 13849-2:2012, Table D.4 (from memory)"
_EXCLUSION: Final = (
    "lines in separate cables, or each with an earthed screen of its own (Table D.4, from memory)"
)


@dataclass(frozen=True, slots=True)
class CableFault:
    """Two lines of a cable in contact; each port then carries what the expression over ports says."""

    cable: str
    name: str
    device: str  # that of the first line
    ports: Mapping[str, Expr]
    fault: Fault

    @property
    def id(self) -> str:
        """`cable.short_...`, as in exclusions and results."""
        return f"{self.cable}.{self.name}"


def cable_faults(bench: Bench, kinds: Mapping[str, Kind]) -> Iterator[CableFault]:
    """Each two lines of each cable; a pair that the kind of their one device names itself is left to the kind.

    Lines that the bench does not have are left out: they are told as mistakes. `kinds`: of the devices, by device.
    """
    for name, cable in bench.cables.items():
        lines = [line for line in dict.fromkeys(cable.lines) if _is_line(line, kinds)]
        seen: dict[str, int] = {}
        for one, other in combinations(lines, 2):
            if _named_by_kind(one, other, kinds) is None:
                fault = _short(bench, name, cable, one, other)
                seen[fault.name] = seen.get(fault.name, 0) + 1
                yield fault if seen[fault.name] == 1 else _numbered(fault, seen[fault.name])


def named_by_kinds(cable: Cable, kinds: Mapping[str, Kind]) -> Iterator[str]:
    """The faults of single devices that are shorts between two lines of the cable, by `device.fault`."""
    for one, other in combinations(dict.fromkeys(cable.lines), 2):
        if (named := _named_by_kind(one, other, kinds)) is not None:
            yield named


def line_words(bench: Bench, port: str) -> str:
    """A line in words: by the device and its contact or input."""
    device, _, name = port.partition(".")
    called = bench.devices[device].name if device in bench.devices else device
    return f"line {name} of the {called}"


def _short(bench: Bench, name: str, cable: Cable, one: str, other: str) -> CableFault:
    text = f"{cable.name}: {line_words(bench, one)} and {line_words(bench, other)} are shorted to each other"
    both = Or((Name(one), Name(other)))
    fault = Fault.model_construct(
        text=text, source=_SOURCE, outputs={}, inputs={}, blocks=[], may_exclude=_EXCLUSION, clears=True
    )
    short = f"short_{one.replace('.', '_')}_{other.replace('.', '_')}"
    return CableFault(name, short, one.partition(".")[0], {one: both, other: both}, fault)


def _numbered(fault: CableFault, number: int) -> CableFault:
    return CableFault(fault.cable, f"{fault.name}_{number}", fault.device, fault.ports, fault.fault)


def _is_line(port: str, kinds: Mapping[str, Kind]) -> bool:
    device, _, name = port.partition(".")
    return device in kinds and (name in kinds[device].inputs or name in kinds[device].outputs)


def _named_by_kind(one: str, other: str, kinds: Mapping[str, Kind]) -> str | None:
    """The fault of a kind that does just this to two lines of one device."""
    device, _, first = one.partition(".")
    same, _, second = other.partition(".")
    if device != same or device not in kinds:
        return None
    either = {Or((Name(first), Name(second))), Or((Name(second), Name(first)))}
    for name, fault in kinds[device].faults.items():
        for forced in (fault.outputs, fault.inputs):
            if set(forced) == {first, second} and set(forced.values()) <= either:
                return f"{device}.{name}"
    return None
