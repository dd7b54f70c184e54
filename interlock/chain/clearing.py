"""What happens when a fault goes away by itself: a loose wire that makes contact again, a contact that comes free.

Each fault that may clear is looked at alone: it arrives at any moment, or is there from power-up on, and may go at
any later one; from then on the bench is sound again, but in the state that the fault has left it in. One fault
that comes and goes counts as one. With two faults asked for, each is also looked at beside each lasting fault that
no stop is sure to reveal: one that is noticed is repaired before it meets another. Of faults that act alike one
stands for all there. Two faults that both come and go are not looked at.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Final

from interlock.bench import Bench
from interlock.chain.bent import Faulty, compile_faulty
from interlock.chain.clearing_result import Beside, Cleared, Clearing
from interlock.chain.clearing_sets import ComingAndGoing
from interlock.chain.clearing_telling import ClearingTeller, Harm
from interlock.chain.fault_classes import classes
from interlock.chain.fault_list import BenchFault, considered
from interlock.chain.ground import Ground
from interlock.chain.hunt import Found, Hunt, spread_all
from interlock.chain.layout import TooWide
from interlock.chain.losses import fault_observers, losses, restarts
from interlock.chain.spread import OutOfRoom, Spread

__all__ = ["judge_clearing"]

_MOST_BYTES: Final = 1 << 30
_RESTLESS: Final = "with some of these faults devices keep changing each other at once and for ever"


def judge_clearing(
    bench: Bench, *, unnoticed: Collection[str] | None = None, most_bytes: int = _MOST_BYTES
) -> Clearing:
    """Every fault that may clear, and what its going away does; WiringLoop if the sound bench never comes to rest.

    `unnoticed`: the faults, by id, beside each of which they are looked at too; None: they are looked at alone only.
    """
    faults = tuple(one for one in considered(bench) if one.fault.clears)
    if not faults:
        return Clearing((), "No fault that is considered can go away by itself.", whole=True)
    found, why = _search(bench, faults, (), most_bytes)
    said = f"Searched whole: {len(faults)} faults that may go away by themselves, each alone, at any moment."
    beside = None if unnoticed is None else _beside(bench, unnoticed, most_bytes)
    return Clearing(found, f"Not verified: {why}." if why else said, whole=not why, beside=beside)


def _beside(bench: Bench, unnoticed: Collection[str], most_bytes: int) -> Beside:
    """One fault of each class that comes and goes, beside one of each class that is not noticed."""
    faulty = compile_faulty(bench, considered(bench))
    alike = classes(faulty, [loss.term for loss in losses(faulty)]).alike
    going = _firsts([[one for one in group if one.fault.clears] for group in alike])
    lasting = _firsts([[one for one in group if one.id in unnoticed] for group in alike])
    if not going or not lasting:
        return Beside(
            (), "No fault stays unnoticed that could meet one that goes away by itself.", whole=True
        )
    found, why = _search(bench, going, lasting, most_bytes)
    said = (
        f"Searched whole: {len(going)} kinds of faults that come and go, each while one of {len(lasting)} kinds of "
        "lasting faults that nobody is sure to notice is there too, in any order and at any moment (faults that act "
        "alike count as one kind). Two faults that both come and go were not looked at."
    )
    return Beside(found, f"Not verified: {why}." if why else said, whole=not why)


def _firsts(groups: list[list[BenchFault]]) -> tuple[BenchFault, ...]:
    return tuple(group[0] for group in groups if group)


def _search(
    bench: Bench, going: tuple[BenchFault, ...], lasting: tuple[BenchFault, ...], most_bytes: int
) -> tuple[tuple[Cleared, ...], str]:
    """What is found of each fault alone, or of each pair if some are lasting; and why something is not verified."""
    faulty = compile_faulty(bench, tuple({one.id: one for one in (*going, *lasting)}.values()))
    sought, starts = losses(faulty), restarts(faulty)
    observers = fault_observers(faulty.person, [loss.term for loss in sought])
    sets = ComingAndGoing([one.id for one in going], [one.id for one in lasting])
    try:
        ground = Ground(faulty, sets, observers)
        hunt = Hunt(ground, sought, starts)
        spread = Spread(ground.steps, ground.events, arriving=True, most_bytes=most_bytes)
        spread_all(spread, hunt)
    except (TooWide, OutOfRoom) as short:
        return (), str(short)
    restless = sets.unpack(ground.steps.restless[None, :])[0]
    teller = ClearingTeller(faulty, sets, hunt, spread)
    found = teller.told(_Findings(faulty, sets, hunt).each(pairs=bool(lasting)))
    return found, _RESTLESS if restless.any() else ""


@dataclass(frozen=True, slots=True)
class _Findings:
    faulty: Faulty
    sets: ComingAndGoing
    hunt: Hunt

    def each(self, *, pairs: bool) -> Iterator[Harm]:
        """Each fault whose going away does harm that its presence does not; of pairs, harm that neither does alone."""
        for number, (coming, gone, lasting) in enumerate(self.sets.each):
            if coming is None or not gone or (lasting is not None) != pairs:
                continue
            less = {0, *self._less(coming, lasting)}
            units = {
                one.unit: found[number]
                for one, found in zip(self.hunt.restarts, self.hunt.restarted, strict=True)
                if number in found and less.isdisjoint(found)
            }
            lost = self._lost(number, less)
            if units or lost:
                yield Harm(number, coming, lasting, units, lost)

    def _lost(self, number: int, less: set[int]) -> dict[tuple[str, str], Found]:
        both = zip(self.hunt.losses, self.hunt.lost, strict=True)
        return {
            (loss.function, loss.effect): found[number]
            for loss, found in both
            if number in found and less.isdisjoint(found)
        }

    def _less(self, coming: str, lasting: str | None) -> Iterator[int]:
        """What must not do the same harm: the fault still there, either of two alone."""
        number = self.sets.number_of
        yield number(coming, lasting=lasting)
        if lasting is not None:
            yield number(coming)
            yield number(coming, gone=True)
            yield number(None, lasting=lasting)
