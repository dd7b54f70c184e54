"""Every fault that a bench may have, by kinds and wiring, and those that its engineer excludes."""

from collections.abc import Iterator
from dataclasses import dataclass

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.kind import Fault
from interlock.bench.wire_faults import WIRE, faults_of_device

__all__ = ["BenchFault", "Excluded", "considered", "excluded", "faults_of"]


@dataclass(frozen=True, slots=True)
class BenchFault:
    """A fault of one device of a bench (or of a wire to it)."""

    device: str
    name: str
    fault: Fault
    words: str

    @property
    def id(self) -> str:
        """`device.fault`, as in exclusions and results."""
        return f"{self.device}.{self.name}"

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
    """Every fault of every device and control wire, excluded or not, in the order of the devices."""
    kinds = kinds_of(bench)
    return tuple(one for name in bench.devices for one in _of(bench, name, kinds[bench.devices[name].kind]))


def considered(bench: Bench) -> tuple[BenchFault, ...]:
    """The faults that are not excluded."""
    out = {one.fault for one in bench.exclusions}
    return tuple(one for one in faults_of(bench) if one.id not in out)


def excluded(bench: Bench) -> tuple[Excluded, ...]:
    """The exclusions of the bench, in the order of its file."""
    words = {one.id: one.words for one in faults_of(bench)}
    return tuple(Excluded(one.fault, words[one.fault], one.reason, one.source) for one in bench.exclusions)


def _of(bench: Bench, device: str, kind: Kind) -> Iterator[BenchFault]:
    called = bench.devices[device].name
    for name, fault in faults_of_device(device, called, kind, bench.wiring).items():
        words = fault.text if name.startswith(WIRE) else f"{called}: {fault.text}"
        yield BenchFault(device, name, fault, words)
