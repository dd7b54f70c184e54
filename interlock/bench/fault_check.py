"""Whether the faults of a device kind fit it, and whether the faults that a bench excludes are there at all."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.cable_faults import cable_faults
from interlock.bench.expr import names as mentioned
from interlock.bench.kind import Fault, Kind
from interlock.bench.models import Bench
from interlock.bench.names import Names, unknown
from interlock.bench.refusal import quoted
from interlock.bench.wire_faults import WIRE, all_faults
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_cables", "check_exclusions", "check_faults"]

_AT: Final[Path] = ("exclusions",)


def check_faults(kind: Kind, at: Path) -> Iterator[Mistake]:
    """Every output, input, state or transition that a fault of the kind at `at` names, but the kind lacks."""
    for index, needed in enumerate(kind.no_wire):
        yield from unknown((*at, "no_wire", index), "input", {needed}, kind.inputs)
    for name, fault in kind.faults.items():
        here: Path = (*at, "faults", name)
        if name.startswith(WIRE):
            why = f"names that begin with {quoted(WIRE)} are kept for faults of the wiring"
            yield Mistake(here, f"fault {quoted(name)}", why, "choose another", at_key=True)
        yield from _forced(kind, fault, here)
        for index, block in enumerate(fault.blocks):
            yield from unknown((*here, "blocks", index), "transition", {block}, _transitions(kind))


def check_exclusions(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Every exclusion of a fault that no device has, or that was excluded before."""
    known = {
        f"{device}.{fault}"
        for device, kind in names.devices.items()
        for fault in all_faults(device, kind, bench.wiring)
    }
    known |= {one.id for one in cable_faults(bench, names.devices)}
    seen: set[str] = set()
    for index, one in enumerate(bench.exclusions):
        at: Path = (*_AT, index, "fault")
        cable = one.fault.partition(".")[0] in bench.cables
        if cable:
            yield from unknown(at, "fault", {one.fault}, known)
        else:
            yield from names.strays(at, "fault", {one.fault}, known)
        if one.fault in seen:
            yield Mistake(at, quoted(one.fault), "it is excluded twice", "keep one exclusion of it")
        seen.add(one.fault)


def check_cables(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Every line of a cable that no device has, or that nothing is wired to, and cables named like a device."""
    ends = names.ports(lambda kind: (*kind.inputs, *kind.outputs))
    for name, cable in bench.cables.items():
        at: Path = ("cables", name)
        if name in bench.devices:
            yield Mistake(at, f"cable {quoted(name)}", "a device has this id", "choose another", at_key=True)
        for index, line in enumerate(cable.lines):
            here = (*at, "lines", index)
            yield from names.strays(here, "input or output", {line}, ends)
            if line in cable.lines[:index]:
                yield Mistake(here, quoted(line), "it stands here twice", "name it once")


def _forced(kind: Kind, fault: Fault, here: Path) -> Iterator[Mistake]:
    for output, expr in fault.outputs.items():
        yield from unknown((*here, "outputs", output), "output", {output}, kind.outputs, at_key=True)
        speaks_of = {*kind.outputs, *kind.states}
        yield from unknown((*here, "outputs", output), "output or state", mentioned(expr), speaks_of)
    for needed, expr in fault.inputs.items():
        yield from unknown((*here, "inputs", needed), "input", {needed}, kind.inputs, at_key=True)
        yield from unknown((*here, "inputs", needed), "input", mentioned(expr), kind.inputs)


def _transitions(kind: Kind) -> set[str]:
    """What a fault may block: acts, delays, and ways from one state to another."""
    ways = {f"{state} to {step.to}" for step in kind.transitions for state in step.source}
    acts = {step.act for step in kind.transitions if step.act is not None}
    return {*ways, *acts, *(step.after for step in kind.transitions if step.after is not None)}
