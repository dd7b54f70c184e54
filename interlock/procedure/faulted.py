"""The chain with at most one fault, there from the beginning: all its states, whichever fault it is."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench import Bench
from interlock.chain import ir
from interlock.chain.bent import PRESENT, Faulty, compile_faulty
from interlock.chain.explore import Graph, explore
from interlock.chain.fault_list import BenchFault, considered
from interlock.errors import InterlockError

__all__ = ["FAULT", "SOUND", "Faulted", "faulted"]

SOUND: Final = "none"
FAULT: Final = "the fault"
_LIMIT: Final = 1_000_000
Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Faulted:
    """The graph of all states; `first` holds the power-up state of the sound bench, then of each fault."""

    faulty: Faulty
    graph: Graph
    first: Numbers

    @property
    def faults(self) -> tuple[BenchFault, ...]:
        """The faults considered, in the order of the bench."""
        return self.faulty.faults

    def rename(self, term: ir.Term) -> ir.Term:
        """A term of the faulty chain, as this graph's layout knows it."""
        return _rename(term, {one.field: one.id for one in self.faults})


def faulted(bench: Bench) -> Faulted:
    """Explore the bench with each considered fault; raises InterlockError if there are too many states."""
    faulty = compile_faulty(bench, considered(bench))
    ids = {one.field: one.id for one in faulty.faults}
    chain = _one_fault(faulty, ids)
    graph = explore(chain, _LIMIT)
    if not graph.whole:
        why = f"more than {_LIMIT:,} states: no procedure can be derived and proved complete"
        raise InterlockError(f"bench '{bench.bench.id}': {why}; describe it in smaller parts")
    arrivals = graph.event[: graph.first_edge[1]] >= len(faulty.chain.events)
    targets = graph.target[: graph.first_edge[1]][arrivals]
    return Faulted(faulty, graph, np.concatenate([np.zeros(1, np.int64), targets]))


def _one_fault(faulty: Faulty, ids: dict[str, str]) -> ir.Chain:
    """One field tells which fault is there; only at power-up may one arrive."""
    sound = faulty.chain
    devices = tuple(one for one in sound.fields if one.name not in ids)
    field = ir.Field(FAULT, (SOUND, *ids.values()), SOUND)
    at_first = ir.all_of(ir.Now(one.name, frozenset({value})) for one, value in _settled(sound, devices))
    arrive = [
        ir.Event(FAULT, one, ir.EventKind.LATE, (ir.Step(frozenset({SOUND}), at_first, one),))
        for one in ids.values()
    ]
    reactions = tuple(replace(one, steps=_steps(one.steps, ids)) for one in sound.reactions)
    events = tuple(replace(one, steps=_steps(one.steps, ids)) for one in sound.events)
    return ir.Chain((*devices, field), reactions, (*events, *arrive))


def _settled(chain: ir.Chain, devices: Sequence[ir.Field]) -> list[tuple[ir.Field, str]]:
    from interlock.chain import reference

    start = reference.start(chain)
    return [(one, start[one.name]) for one in devices]


def _steps(steps: Sequence[ir.Step], ids: dict[str, str]) -> tuple[ir.Step, ...]:
    return tuple(replace(one, guard=_rename(one.guard, ids)) for one in steps)


def _rename(term: ir.Term, ids: dict[str, str]) -> ir.Term:
    def renamed(atom: ir.Now | ir.Was | ir.By) -> ir.Term:
        if not isinstance(atom, ir.Now) or atom.field not in ids:
            return atom
        here = ir.Now(FAULT, frozenset({ids[atom.field]}))
        return here if PRESENT in atom.values else ir.no(here)

    return ir.mapped(term, renamed)
