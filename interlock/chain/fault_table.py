"""What every fault set does, by numbers: which effects it loses and whether a smaller set does so too."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.bent import Faulty, compile_faulty
from interlock.chain.fault_classes import Classes, classes
from interlock.chain.fault_list import BenchFault
from interlock.chain.fault_sets import FaultSets
from interlock.chain.hunt import Found, Ground, Hunt, spread_all
from interlock.chain.losses import Misstep, Rule, fault_observers, losses, missteps, watched_terms
from interlock.chain.reveal import Revealed, reveal
from interlock.chain.spread import Level, OutOfRoom, Spread

__all__ = ["Effect", "Explored", "explore_faults", "minimal"]

Effect = tuple[str, str]
"""A function and one of its effects."""


@dataclass(frozen=True, slots=True)
class Explored:
    """A bench searched under every set of at most so many faults."""

    ground: Ground
    groups: Classes
    hunt: Hunt
    spread: Spread
    lost: Mapping[Effect, Mapping[int, Found]]  # the nearest loss, by the set's number
    restarted: Mapping[str, Mapping[int, Found]]  # by unit
    broken: Mapping[Rule, Mapping[int, Found]]  # the nearest breach of a rule beside the functions' effects
    revealed: Revealed | None  # of the sets of all sizes but the largest, at least of the single ones
    shortfall: str  # why something is not verified; empty if all is

    @property
    def sets(self) -> FaultSets:
        """The sets, of the first fault of each class."""
        return self.ground.sets

    @property
    def faults(self) -> tuple[BenchFault, ...]:
        """The first fault of each class."""
        return self.ground.faulty.faults

    @property
    def restless(self) -> Truths:
        """Of each set, whether something under it never comes to rest, so that it is not verified."""
        found: Truths = self.sets.unpack(self.ground.steps.restless[None, :])[0]
        return found


def explore_faults(faulty: Faulty, most: int, most_bytes: int) -> Explored:
    """Everything that the bench does while at most `most` faults arrive, at any moments. Raises TooWide."""
    groups = classes(faulty, watched_terms(faulty))
    first = compile_faulty(faulty.person.bench, tuple(group[0] for group in groups.alike))
    sought, wrong = losses(first), missteps(first)
    ground = _ground(first, most)
    hunt = Hunt(ground, sought, wrong)
    spread = Spread(ground.steps, ground.events, arriving=True, most_bytes=most_bytes)
    revealed, shortfall = None, ""
    try:
        spread_all(spread, hunt)
        revealed = _revealed(first, spread, max(1, most - 1), most_bytes)
    except OutOfRoom as short:
        shortfall = str(short)
    restarted = {one.device: found for one, found in hunt.each() if isinstance(one, Misstep) and one.starts}
    broken = {one.rule: found for one, found in hunt.each() if one.rule is not None}
    return Explored(ground, groups, hunt, spread, _nearest(hunt), restarted, broken, revealed, shortfall)


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


def _revealed(faulty: Faulty, spread: Spread, most: int, most_bytes: int) -> Revealed:
    """What shows of smaller sets; they are the first of all, so their bits are the first bits."""
    ground = _ground(faulty, most)
    met = spread.met
    bits = met.bits[:, : ground.sets.width] & ground.sets.every
    some = bits.any(axis=1)
    ground.steps.know(met.words[some], ground.steps.held.numbers(bits[some]), arriving=False)
    return reveal(ground, Level(met.words[some], bits[some]), most_bytes)


def _nearest(hunt: Hunt) -> dict[Effect, dict[int, Found]]:
    found: dict[Effect, dict[int, Found]] = {}
    for what, where in hunt.each():
        if what.rule is not None or (isinstance(what, Misstep) and what.starts):
            continue
        best = found.setdefault((what.function, what.effect), {})
        for number, one in where.items():
            if number not in best or (one.brief, one.steps) < (best[number].brief, best[number].steps):
                best[number] = one
    return found
