"""Faults that change a bench in the same way, told once: what holds for one of a class holds for all.

Two faults are of one class if, one of them being present, every place of the chain reads the same, whatever
other faults there are. A set that holds two of a class behaves as if it held one.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from interlock.chain import ir
from interlock.chain.bent import PRESENT, Faulty
from interlock.chain.fault_list import BenchFault

__all__ = ["Classes", "assume", "classes"]

_Place = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Classes:
    """Classes of faults that act alike, each in the bench's order, and the faults that change nothing."""

    alike: tuple[tuple[BenchFault, ...], ...]
    idle: tuple[BenchFault, ...]


def classes(faulty: Faulty, watched: Iterable[ir.Term]) -> Classes:
    """The classes of the bench's faults; `watched`: all terms that losses are told by."""
    places = dict(_places(faulty.chain, watched))
    touched = {fault.field: list[_Place]() for fault in faulty.faults}
    for place, term in places.items():
        for field in {atom.field for atom in ir.atoms(term) if not isinstance(atom, ir.By)} & touched.keys():
            touched[field].append(place)
    found: dict[frozenset[tuple[_Place, ir.Term]], list[BenchFault]] = {}
    idle = []
    for fault in faulty.faults:
        bent = frozenset((at, assume(places[at], fault.field)) for at in touched[fault.field])
        if bent:
            found.setdefault(bent, []).append(fault)
        else:
            idle.append(fault)
    return Classes(tuple(map(tuple, found.values())), tuple(idle))


def assume(term: ir.Term, field: str) -> ir.Term:
    """The term as it reads while the fault of that field is present."""

    def known(atom: ir.Now | ir.Was | ir.By) -> ir.Term:
        if isinstance(atom, ir.By) or atom.field != field:
            return atom
        return ir.Const(PRESENT in atom.values)

    return ir.mapped(term, known)


def _places(chain: ir.Chain, watched: Iterable[ir.Term]) -> Iterator[tuple[_Place, ir.Term]]:
    for device in chain.reactions:
        yield from _steps(("at once", device.device), device.steps)
    for event in chain.events:
        yield from _steps((event.kind, event.device, event.trigger), event.steps)
    for number, term in enumerate(watched):
        yield ("watched", str(number)), term


def _steps(at: _Place, steps: Iterable[ir.Step]) -> Iterator[tuple[_Place, ir.Term]]:
    for number, step in enumerate(steps):
        yield (*at, str(number)), step.guard
