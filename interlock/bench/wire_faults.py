"""Faults of the control wires, derived from the wiring: each may be broken, or be shorted to the supply."""

from collections.abc import Iterable, Iterator
from typing import Final

from interlock.bench.kind import Fault, Kind

__all__ = ["WIRE", "all_faults", "faults_of_device", "wired_inputs"]

WIRE: Final = "wire_"
"""How the names of these faults begin; no fault of a kind may begin so."""

_SOURCE: Final = "ISO 13849-2:2012, Table D.4 (from memory)"
_EXCLUSION: Final = (
    "wires laid apart and protected against damage, or all inside one enclosure (Table D.4, from memory)"
)


def wired_inputs(device: str, kind: Kind, wiring: Iterable[str]) -> list[str]:
    """The inputs of a device that a control wire reaches."""
    wired = set(wiring)
    return [one for one in kind.inputs if f"{device}.{one}" in wired and one not in kind.no_wire]


def faults_of_device(device: str, name: str, kind: Kind, wiring: Iterable[str]) -> dict[str, Fault]:
    """Every fault of a device by its name: those of its kind, then those of the wires to it."""
    wires = (fault for one in wired_inputs(device, kind, wiring) for fault in _of_wire(one, name))
    return {**kind.faults, **dict(wires)}


def all_faults(device: str, kind: Kind, wiring: Iterable[str]) -> set[str]:
    """The names of a device's faults."""
    return set(faults_of_device(device, device, kind, wiring))


def _of_wire(needed: str, name: str) -> Iterator[tuple[str, Fault]]:
    yield _fault(
        needed, "short_to_supply", f"{name}: the wire to {needed} is shorted to the supply", "always"
    )
    yield _fault(needed, "break", f"{name}: the wire to {needed} is broken", "never")


def _fault(needed: str, what: str, text: str, forced: str) -> tuple[str, Fault]:
    exclusion = _EXCLUSION if forced == "always" else ""
    declared = {"text": text, "source": _SOURCE, "inputs": {needed: forced}, "may_exclude": exclusion}
    return f"{WIRE}{needed}_{what}", Fault.model_validate(declared)
