"""Every fault that a bench may have, by kinds and wiring, and those that its engineer excludes."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.cable_faults import cable_faults, named_by_kinds
from interlock.bench.expr import Const, Expr, evaluate
from interlock.bench.kind import Fault
from interlock.bench.wire_faults import WIRE, faults_of_device

__all__ = ["BenchFault", "Excluded", "considered", "excluded", "faults_of"]


@dataclass(frozen=True, slots=True)
class BenchFault:
    """A fault of one device of a bench (or of a wire to it), or of two lines in one cable.

    `ports`: of a cable, what each line then carries, as an expression over `device.port`; `device` is that of the
    first line.
    """

    device: str
    name: str
    fault: Fault
    words: str
    cable: str = ""
    ports: Mapping[str, Expr] = field(default_factory=dict, hash=False)

    @property
    def id(self) -> str:
        """`device.fault` or `cable.fault`, as in exclusions and results."""
        return f"{self.cable or self.device}.{self.name}"

    @property
    def field(self) -> str:
        """The field of the chain that tells whether the fault is present."""
        return f"fault {self.id}"


@dataclass(frozen=True, slots=True)
class Excluded:
    """A fault left out of account, why, and by which source."""

    fault: str
    words: str
    reason: str
    source: str

    def as_json(self) -> dict[str, str]:
        """Plain data."""
        return {"fault": self.fault, "words": self.words, "reason": self.reason, "source": self.source}


def faults_of(bench: Bench) -> tuple[BenchFault, ...]:
    """Every fault of every device and control wire, excluded or not, in the order of the devices; then of cables."""
    kinds = kinds_of(bench)
    of_devices = [one for name in bench.devices for one in _of(bench, name, kinds[bench.devices[name].kind])]
    return (*of_devices, *_of_cables(bench))


def considered(bench: Bench) -> tuple[BenchFault, ...]:
    """The faults that are not excluded and change something on this bench."""
    out = {one.fault for one in excluded(bench)}
    kinds = _kinds(bench)
    return tuple(
        one
        for one in faults_of(bench)
        if one.id not in out and (one.cable or _changes(bench, kinds[one.device], one))
    )


def _changes(bench: Bench, kind: Kind, one: BenchFault) -> bool:
    """False for a fault that is the wiring itself: a bridged input shorted to the supply, two lines of one contact.

    Such a fault may hide another one of the same port (a break), which is then told alone.
    """
    if one.fault.outputs or one.fault.blocks:
        return True
    wires = {port: bench.wiring.get(f"{one.device}.{port}") for port in kind.inputs}
    carries = {
        port: Const(kind.inputs[port] == "always") if wire is None else wire for port, wire in wires.items()
    }
    free = list(dict.fromkeys(wire for wire in carries.values() if not isinstance(wire, Const)))
    for values in product((False, True), repeat=len(free)):
        on = dict(zip(free, values, strict=True))
        at = {port: wire.value if isinstance(wire, Const) else on[wire] for port, wire in carries.items()}
        if any(evaluate(expr, at.__getitem__) != at[port] for port, expr in one.fault.inputs.items()):
            return True
    return False


def excluded(bench: Bench) -> tuple[Excluded, ...]:
    """The exclusions of the bench, in the order of its file, then all shorts within excluded cables."""
    words = {one.id: one.words for one in faults_of(bench)}
    found = {
        one.fault: Excluded(one.fault, words[one.fault], one.reason, one.source) for one in bench.exclusions
    }
    shorts = [(one.cable, one.id) for one in _of_cables(bench)]
    shorts += [
        (name, one) for name, cable in bench.cables.items() for one in named_by_kinds(cable, _kinds(bench))
    ]
    for cable, one in shorts:
        if (grounds := bench.cables[cable].excluded) is not None:
            found.setdefault(one, Excluded(one, words[one], grounds.reason, grounds.source))
    return tuple(found.values())


def _kinds(bench: Bench) -> dict[str, Kind]:
    """The kind of each device."""
    kinds = kinds_of(bench)
    return {name: kinds[device.kind] for name, device in bench.devices.items()}


def _of_cables(bench: Bench) -> Iterator[BenchFault]:
    for one in cable_faults(bench, _kinds(bench)):
        yield BenchFault(one.device, one.name, one.fault, one.fault.text, one.cable, one.ports)


def _of(bench: Bench, device: str, kind: Kind) -> Iterator[BenchFault]:
    called = bench.devices[device].name
    for name, fault in faults_of_device(device, called, kind, bench.wiring).items():
        words = fault.text if name.startswith(WIRE) else f"{called}: {fault.text}"
        yield BenchFault(device, name, fault, words)
