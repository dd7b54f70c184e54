"""What happens when a fault goes away by itself: a loose wire that makes contact again, a contact that comes free.

Each fault that may clear is looked at alone: it arrives at any moment, or is there from power-up on, and may go at
any later one; from then on the bench is sound again, but in the state that the fault has left it in. One fault
that comes and goes counts as one. With two faults asked for, each is also looked at beside each lasting fault that
no stop is sure to reveal (one that is noticed is repaired before it meets another), and with each other one that comes
and goes, or once more itself. Of faults that act alike one stands for all there.
"""

from collections.abc import Collection, Iterator
from dataclasses import replace
from typing import Final

from interlock.bench import Bench
from interlock.chain.bent import compile_faulty
from interlock.chain.clearing_result import Cleared, Clearing, Pairs
from interlock.chain.clearing_sets import GONE, STAYS, ComingAndGoing, beside, both, coming
from interlock.chain.clearing_telling import ClearingTeller, Harm
from interlock.chain.fault_classes import classes
from interlock.chain.fault_list import BenchFault, considered
from interlock.chain.ground import Ground
from interlock.chain.layout import TooWide
from interlock.chain.losses import fault_observers
from interlock.chain.missteps import watched_terms
from interlock.chain.parts import Part, parts
from interlock.chain.searched import Search, search

__all__ = ["judge_clearing"]

_MOST_BYTES: Final = 1 << 30
_RESTLESS: Final = "with some of these faults devices keep changing each other at once and for ever"


def judge_clearing(
    bench: Bench, *, unnoticed: Collection[str] | None = None, most_bytes: int = _MOST_BYTES
) -> Clearing:
    """Every fault that may clear, and what its going away does; WiringLoop if the sound bench never comes to rest.

    `unnoticed`: the faults, by id, beside each of which they are looked at too; then also two that come and go are.
    None: they are looked at alone only.
    """
    faults = tuple(one for one in considered(bench) if one.fault.clears)
    if not faults:
        return Clearing((), "No fault that is considered can go away by itself.", whole=True)
    found, why = _search(bench, faults, ComingAndGoing(coming(_ids(faults))), most_bytes, 1)
    said = f"Searched whole: {len(faults)} faults that may go away by themselves, each alone, at any moment."
    alone = f"Not verified: {why}." if why else said
    if unnoticed is None:
        return Clearing(found, alone, whole=not why)
    alike = classes(faulty := compile_faulty(bench, considered(bench)), watched_terms(faulty)).alike
    going = _firsts([[one for one in group if one.fault.clears] for group in alike])
    lasting = _firsts([[one for one in group if one.id in unnoticed] for group in alike])
    stays, goes = _beside(bench, going, lasting, most_bytes), _both(bench, going, most_bytes)
    return Clearing(found, alone, whole=not why, beside=stays, both=goes)


def _beside(
    bench: Bench, going: tuple[BenchFault, ...], lasting: tuple[BenchFault, ...], most_bytes: int
) -> Pairs:
    """One fault of each class that comes and goes, beside one of each class that is not noticed."""
    if not going or not lasting:
        said = "No fault stays unnoticed that could meet one that goes away by itself."
        return Pairs((), said, whole=True)
    sets = ComingAndGoing(beside(_ids(going), _ids(lasting)))
    every = tuple({one.id: one for one in (*going, *lasting)}.values())
    found, why = _search(bench, every, sets, most_bytes, 2)
    said = (
        f"Searched whole: {len(going)} kinds of faults that come and go, each while one of {len(lasting)} kinds of "
        "lasting faults that nobody is sure to notice is there too, in any order and at any moment (faults that act "
        "alike count as one kind)."
    )
    return Pairs(found, f"Not verified: {why}." if why else said, whole=not why)


def _both(bench: Bench, going: tuple[BenchFault, ...], most_bytes: int) -> Pairs:
    """Any two faults that come and go, one of each class, or one that does so twice."""
    found, why = _search(bench, going, ComingAndGoing(both(_ids(going))), most_bytes, 2)
    said = (
        f"Searched whole: any two of {len(going)} kinds of faults that come and go, and each of them twice, in any "
        "order and at any moment. More than two comings and goings were not looked at."
    )
    return Pairs(found, f"Not verified: {why}." if why else said, whole=not why)


def _ids(faults: tuple[BenchFault, ...]) -> list[str]:
    return [one.id for one in faults]


def _firsts(groups: list[list[BenchFault]]) -> tuple[BenchFault, ...]:
    return tuple(group[0] for group in groups if group)


def _search(
    bench: Bench, faults: tuple[BenchFault, ...], sets: ComingAndGoing, most_bytes: int, size: int
) -> tuple[tuple[Cleared, ...], str]:
    """What is found of sets of this size, and why something is not verified."""
    faulty = compile_faulty(bench, faults)
    at_once = [
        replace(one, wrong=tuple(each for each in one.wrong if each.begins is None)) for one in parts(faulty)
    ]
    try:
        whole = Ground(faulty, sets, fault_observers(faulty.person, watched_terms(faulty)))
        found = search(whole, at_once, lambda part: _of(part, sets), most_bytes)
    except TooWide as wide:
        return (), str(wide)
    if found.shortfall:
        return (), found.shortfall
    teller = ClearingTeller(faulty, sets, found)
    return teller.told(_harms(sets, found, size)), _RESTLESS if found.restless.any() else ""


def _of(part: Part, sets: ComingAndGoing) -> Ground:
    return Ground(part.faulty, sets.of({one.id for one in part.faulty.faults}), part.observers)


def _harms(sets: ComingAndGoing, found: Search, size: int) -> Iterator[Harm]:
    """The sets from which all has gone that may go, and the harm of each that no less of it does."""
    seen = list(found.each())
    for number, members in enumerate(sets.each):
        if len(members) != size or not all(phase in {GONE, STAYS} for _, phase in members):
            continue
        if all(phase == STAYS for _, phase in members):
            continue
        less, harm = sets.less(number), Harm(number, members)
        for what, where in seen:
            if number in where and less.isdisjoint(where):
                harm.add(what, where[number])
        if harm.units or harm.lost or harm.rules:
            yield harm
