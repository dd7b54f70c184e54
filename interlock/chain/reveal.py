"""Which faults show, and at which demand: the bench then no longer comes back to work.

A fault set is revealed by a demand if, from a bench at work with the faults in it, once the demand was complete,
no acts whatever (and no haste) bring the bench back to lasting work without operating another stop device. It is masked
if operating another stop device then does bring it back (ISO/TR 24119). Under a set with which the bench is
never at work, it shows at once. Nothing is revealed by a demand from which even the sound bench does not return.
"""

from dataclasses import dataclass

import numpy as np

from interlock.chain import ir
from interlock.chain.fault_sets import Bits
from interlock.chain.hunt import Ground
from interlock.chain.losses import at_rest, full_demand, unreset_stop, working
from interlock.chain.spread import Kept, Level, Spread

__all__ = ["Revealed", "reveal"]


@dataclass(frozen=True, slots=True)
class Revealed:
    """By the number of each set: whether the bench is ever at work, which demands reveal it, what undoes that."""

    at_work: tuple[bool, ...]
    by: tuple[tuple[str, ...], ...]  # functions whose demand reveals it
    masked: tuple[tuple[tuple[str, str], ...], ...]  # the function that reveals it, another that hides it


def reveal(ground: Ground, met: Level, most_bytes: int) -> Revealed:
    """What shows of each set, from every state in which the bench is at work; raises OutOfRoom."""
    at_work, search = _at_work(ground, met, most_bytes)
    every = np.bitwise_or.reduce(at_work.bits, axis=0, initial=0)
    shown: dict[str, Bits] = {}
    hidden: dict[tuple[str, str], Bits] = {}
    functions = list(ground.faulty.person.functions)
    for name in functions:
        demanded = search.demanded(name, at_work)
        back = search.back(name, demanded, frozenset())
        if not back[0] & np.uint64(1):  # even the sound bench does not come back
            continue
        shown[name] = every & ~back
        hiding = _under(demanded, shown[name])
        for other in functions if shown[name].any() else ():
            if search.device(other) != search.device(name):
                hidden[name, other] = search.back(name, hiding, frozenset({other}))
    numbers = range(len(ground.sets.sets))
    return Revealed(
        tuple(_has(every, one) for one in numbers),
        tuple(tuple(name for name, bits in shown.items() if _has(bits, one)) for one in numbers),
        tuple(tuple(pair for pair, bits in hidden.items() if _has(bits, one)) for one in numbers),
    )


def _at_work(ground: Ground, met: Level, most_bytes: int) -> tuple[Level, "_Search"]:
    """The states at work, without those that only last until a late reaction, if the sound bench has others."""
    for work in (ir.all_of([working(ground.faulty), at_rest(ground.faulty)]), working(ground.faulty)):
        search = _Search(ground, work, most_bytes)
        found = search.some(work, met)
        if (found.bits[:, 0] & np.uint64(1)).any():
            break
    return found, search


@dataclass(frozen=True, slots=True)
class _Search:
    ground: Ground
    work: ir.Term
    most_bytes: int

    def some(self, term: ir.Term, level: Level) -> Level:
        """The states and sets of a level of which the term holds."""
        bits = self.ground.where(self.ground.truth(term), level)
        rows = bits.any(axis=1)
        return Level(level.words[rows], bits[rows])

    def demanded(self, function: str, at_work: Level) -> Level:
        """From the bench at work, by acts on the demanding device alone: the demand is complete."""
        events = self.ground.late(None) | self._acts({self.device(function)})
        spread = Spread(self.ground.steps, events, arriving=False, most_bytes=self.most_bytes)
        spread.run(at_work.words, at_work.bits, lambda _: True)
        return self.some(full_demand(self.ground.faulty.person, function), spread.met)

    def back(self, function: str, demanded: Level, others: frozenset[str]) -> Bits:
        """The sets under which the bench comes back to work, lawfully reset; `others`: stops that may be used too."""
        person = self.ground.faulty.person
        barred = {self.device(one) for one in person.functions if one not in others} - {self.device(function)}
        modes = person.bench.required.modes
        if modes is not None and not others:
            barred.add(modes.by)
        events = self.ground.events - self._acts(barred)
        spread = Spread(self.ground.steps, events, arriving=False, most_bytes=self.most_bytes)
        goal = ir.all_of([self.work, ir.no(unreset_stop(function))])
        truth, found = self.ground.truth(goal), np.zeros(self.ground.sets.width, np.uint64)

        def look(level: Kept) -> bool:
            nonlocal found
            found = found | np.bitwise_or.reduce(self.ground.where(truth, level), axis=0)
            return True

        spread.run(demanded.words, demanded.bits, look)
        return found

    def _acts(self, devices: set[str]) -> frozenset[int]:
        return frozenset(
            number
            for number, event in enumerate(self.ground.faulty.chain.events)
            if event.kind is ir.EventKind.ACT and event.device in devices
        )

    def device(self, function: str) -> str:
        """The device that demands a function."""
        return self.ground.faulty.person.functions[function].demand


def _under(level: Level, sets: Bits) -> Level:
    """The states of a level that are met under some of the sets, under these alone."""
    bits = level.bits & sets
    rows = bits.any(axis=1)
    return Level(level.words[rows], bits[rows])


def _has(bits: Bits, number: int) -> bool:
    return bool(bits[number >> 6] >> np.uint64(number & 63) & np.uint64(1))
