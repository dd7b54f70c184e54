"""What every fault set does, by numbers: which effects it loses and whether a smaller set does so too."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from interlock.bench import Bench
from interlock.chain import ir
from interlock.chain.arrays import Truths
from interlock.chain.bent import Faulty, compile_faulty, present
from interlock.chain.fault_classes import Classes, classes
from interlock.chain.fault_list import BenchFault
from interlock.chain.fault_sets import FaultSets
from interlock.chain.ground import Ground
from interlock.chain.hunt import Found
from interlock.chain.losses import Loss, Rule, fault_observers
from interlock.chain.missteps import Misstep, watched_terms
from interlock.chain.parts import Part, parts
from interlock.chain.reveal import Revealed, reveal
from interlock.chain.searched import Search, search
from interlock.chain.spread import Level, OutOfRoom, Spread

__all__ = ["Effect", "Explored", "explore_faults", "minimal"]

Effect = tuple[str, str]
"""A function and one of its effects."""


@dataclass(frozen=True, slots=True)
class Explored:
    """A bench searched under every set of at most so many faults."""

    groups: Classes
    search: Search
    lost: Mapping[Effect, Mapping[int, Found]]  # the nearest loss, by the set's number
    restarted: Mapping[str, Mapping[int, Found]]  # by unit
    broken: Mapping[Rule, Mapping[int, Found]]  # the nearest breach of a rule beside the functions' effects
    revealed: Revealed | None  # of the sets of all sizes but the largest, at least of the single ones
    restless: (
        Truths  # of each set, whether something under it never comes to rest, so that it is not verified
    )
    shortfall: str  # why losses are not verified; empty if all are
    unshown: str  # why it is not verified what is noticed; empty if it is

    @property
    def ground(self) -> Ground:
        """The whole bench."""
        return self.search.ground

    @property
    def sets(self) -> FaultSets:
        """The sets, of the first fault of each class."""
        return self.ground.sets

    @property
    def faults(self) -> tuple[BenchFault, ...]:
        """The first fault of each class."""
        return self.ground.faulty.faults


def explore_faults(
    faulty: Faulty, most: int, most_bytes: int, split: Callable[[Faulty], Sequence[Part]] = parts
) -> Explored:
    """Everything that the bench does while at most `most` faults arrive, at any moments. Raises TooWide.

    `split` says what is searched apart: what is found is the same, except which of equally short ways is told.
    """
    groups = classes(faulty, watched_terms(faulty))
    found = _search(faulty.person.bench, tuple(group[0] for group in groups.alike), most, most_bytes, split)
    revealed, unshown = None, found.shortfall
    if not unshown:
        try:
            revealed = _revealed(found, max(1, most - 1), most_bytes)
        except OutOfRoom as short:
            unshown = str(short)
    each = list(found.each())
    restarted = {one.device: where for one, where in each if isinstance(one, Misstep) and one.starts}
    broken = {one.rule: where for one, where in each if one.rule is not None}
    lost, why = _nearest(each), found.shortfall
    return Explored(groups, found, lost, restarted, broken, revealed, found.restless, why, unshown)


def _search(
    bench: Bench,
    faults: tuple[BenchFault, ...],
    most: int,
    most_bytes: int,
    split: Callable[[Faulty], Sequence[Part]],
) -> Search:
    """Searched anew while more faults are found that make a timer doubtful which is not alone in locking a guard."""
    doubts, known = dict[int, frozenset[tuple[int, ...]]](), None
    while doubts != known:
        known = doubts
        first = compile_faulty(bench, faults, {timer: _any(faults, sets) for timer, sets in known.items()})
        found = search(_ground(first, most), split(first), lambda part: _of(part, most), most_bytes)
        doubts = dict(known)
        for what, where in () if found.shortfall else found.each():
            if isinstance(what, Loss) and what.doubts is not None and where:
                least = {found.ground.sets.sets[number] for number in minimal(found.ground.sets, list(where))}
                doubts[what.doubts] = doubts.get(what.doubts, frozenset()) | least
    return found


def _any(faults: Sequence[BenchFault], sets: Iterable[tuple[int, ...]]) -> ir.Term:
    """All faults of one of these sets are there."""
    return ir.any_of(ir.all_of(present(faults[one]) for one in members) for members in sorted(sets))


def minimal(sets: FaultSets, shown: Sequence[int]) -> frozenset[int]:
    """Those of the sets that show something of which no smaller set shows it."""
    here = np.zeros(len(sets.sets), np.bool_)
    here[list(shown)] = True
    below, start = np.zeros_like(here), 1
    for parents in sets.parents:
        end = start + len(parents)
        either = here | below
        below[start:end] = reduce(np.logical_or, either[parents].T) if len(parents) else False
        start = end
    return frozenset(np.flatnonzero(here & ~below).tolist())


def _ground(faulty: Faulty, most: int) -> Ground:
    sets = FaultSets([fault.id for fault in faulty.faults], most)
    return Ground(faulty, sets, fault_observers(faulty.person, watched_terms(faulty)))


def _of(part: Part, most: int) -> Ground:
    return Ground(part.faulty, FaultSets([fault.id for fault in part.faulty.faults], most), part.observers)


def _revealed(found: Search, most: int, most_bytes: int) -> Revealed:
    """What shows of smaller sets; they are the first of all, so their bits are the first bits."""
    ground = _ground(found.ground.faulty, most)
    if found.in_parts:
        spread = Spread(ground.steps, ground.events, arriving=True, most_bytes=most_bytes)
        spread.run(*ground.begin(), lambda _: True)
        return reveal(ground, spread.met, most_bytes)
    [whole] = found.parts
    met = whole.spread.met
    bits = met.bits[:, : ground.sets.width] & ground.sets.every
    some = bits.any(axis=1)
    ground.steps.know(met.words[some], ground.steps.held.numbers(bits[some]), arriving=False)
    return reveal(ground, Level(met.words[some], bits[some]), most_bytes)


def _nearest(each: Iterable[tuple[Loss | Misstep, Mapping[int, Found]]]) -> dict[Effect, dict[int, Found]]:
    found: dict[Effect, dict[int, Found]] = {}
    for what, where in each:
        if what.rule is not None or (what.starts if isinstance(what, Misstep) else what.doubts is not None):
            continue
        best = found.setdefault((what.function, what.effect), {})
        for number, one in where.items():
            if number not in best or (one.brief, one.steps) < (best[number].brief, best[number].steps):
                best[number] = one
    return found
