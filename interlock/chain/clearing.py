"""What happens when a fault goes away by itself: a loose wire that makes contact again, a contact that comes free.

Each fault that may clear is looked at alone: it arrives at any moment, or is there from power-up on, and may go at
any later one; from then on the bench is sound again, but in the state that the fault has left it in. One fault
that comes and goes counts as one. Several at a time are not looked at.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from interlock.bench import Bench
from interlock.chain import ir
from interlock.chain.bent import ABSENT, PRESENT, Faulty, compile_faulty
from interlock.chain.clearing_result import Cleared, Clearing
from interlock.chain.fault_list import BenchFault, considered
from interlock.chain.fault_sets import Bits, FaultSets
from interlock.chain.hunt import Found, Ground, Hunt, spread_all
from interlock.chain.layout import TooWide
from interlock.chain.losses import fault_observers, losses, restarts
from interlock.chain.reference import State
from interlock.chain.sight import NOBODY
from interlock.chain.spread import OutOfRoom, Spread
from interlock.chain.trail import Stage, trails
from interlock.chain.words import Act, act_of, changes_of

__all__ = ["ComingAndGoing", "judge_clearing"]

_MOST_BYTES = 1 << 30


class ComingAndGoing(FaultSets):
    """No fault; each fault alone; and after each, that it was there and has gone."""

    def __init__(self, faults: Sequence[str]) -> None:
        super().__init__(faults, 1)
        self.gone = {number: number + len(self.faults) for number in range(1, len(self.faults) + 1)}
        self.sets = (*self.sets, *((number + len(self.faults),) for number in range(len(self.faults))))
        self.number = {one: number for number, one in enumerate(self.sets)}
        self.width = -(-len(self.sets) // 64)
        self.every = self.pack(np.ones((1, len(self.sets)), np.bool_))[0]
        self._present: dict[str, Bits] = {
            name: self.pack(np.array([[one == (at,) for one in self.sets]]))[0]
            for at, name in enumerate(faults)
        }

    def having(self, fault: str) -> Bits:
        """One row: the sets in which the fault is there."""
        return self._present[fault]

    def has_gone(self, number: int) -> bool:
        """In the set of this number the fault was there and has gone."""
        return number > len(self.faults)

    def within(self, number: int) -> list[int]:
        """The sets from which one arrival or one departure leads to this one."""
        return [] if number == 0 else [number - len(self.faults) if self.has_gone(number) else 0]

    def one_more(self, bits: Bits) -> Bits:
        """The sets that arise from those of each row when a fault arrives, or the one that is there goes."""
        held, count = self.unpack(bits), len(self.faults)
        grown = np.zeros_like(held)
        grown[:, 1 : count + 1] = held[:, :1]
        grown[:, count + 1 :] = held[:, 1 : count + 1]
        return self.pack(grown)


def judge_clearing(bench: Bench, *, most_bytes: int = _MOST_BYTES) -> Clearing:
    """Every fault that may clear, and what its going away does; WiringLoop if the sound bench never comes to rest."""
    faults = tuple(one for one in considered(bench) if one.fault.clears)
    if not faults:
        return Clearing((), "No fault that is considered can go away by itself.", whole=True)
    faulty = compile_faulty(bench, faults)
    sought, starts = losses(faulty), restarts(faulty)
    observers = fault_observers(faulty.person, [loss.term for loss in sought])
    sets = ComingAndGoing([one.id for one in faults])
    try:
        ground = Ground(faulty, sets, observers)
    except TooWide as wide:
        return Clearing((), f"Not verified: {wide}.", whole=False)
    hunt = Hunt(ground, sought, starts)
    spread = Spread(ground.steps, ground.events, arriving=True, most_bytes=most_bytes)
    try:
        spread_all(spread, hunt)
    except OutOfRoom as short:
        return Clearing((), f"Not verified: {short}.", whole=False)
    restless = sets.unpack(ground.steps.restless[None, :])[0]
    found = _Findings(faulty, sets, hunt, spread)
    said = f"Searched whole: {len(faults)} faults that may go away by themselves, each alone, at any moment."
    if restless.any():
        said = (
            "Not verified: with some of these faults devices keep changing each other at once and for ever."
        )
    return Clearing(tuple(found.each(faults)), said, whole=not restless.any())


@dataclass(frozen=True, slots=True)
class _Findings:
    faulty: Faulty
    sets: ComingAndGoing
    hunt: Hunt
    spread: Spread

    def each(self, faults: Sequence[BenchFault]) -> Iterator[Cleared]:
        """Those faults whose going away does harm that their presence does not."""
        for number, fault in enumerate(faults, 1):
            gone = self.sets.gone[number]
            units = {
                one.unit: found[gone]
                for one, found in zip(self.hunt.restarts, self.hunt.restarted, strict=True)
                if gone in found and number not in found and 0 not in found
            }
            lost = {
                (loss.function, loss.effect): found[gone]
                for loss, found in zip(self.hunt.losses, self.hunt.lost, strict=True)
                if gone in found and number not in found and 0 not in found
            }
            if units or lost:
                yield self._told(fault, units, lost)

    def _told(
        self, fault: BenchFault, units: Mapping[str, Found], lost: Mapping[tuple[str, str], Found]
    ) -> Cleared:
        nearest = min((*units.values(), *lost.values()), key=lambda one: one.goal.level)
        way = trails(self.spread, [nearest.goal])[nearest.goal]
        acts = self._acts(fault, (*way, *(() if nearest.then is None else (nearest.then,))))
        functions = tuple(dict.fromkeys(function for function, _ in lost))
        return Cleared(
            fault.id, fault.words, tuple(units), functions, acts, self._sentence(units, functions, acts)
        )

    def _sentence(self, units: Mapping[str, Found], functions: Sequence[str], acts: Sequence[Act]) -> str:
        person, said = self.faulty.person, []
        if units:
            called = " and the ".join(person.name(unit) for unit in units)
            said.append(
                f"The {called} may begin to make torque unasked once the fault has gone away by itself."
            )
        if functions:
            titles = ", ".join(f"'{person.functions[one].title}'" for one in functions)
            said.append(
                f"Once it has come and gone, the stop no longer lasts until a person's reset: {titles}."
            )
        return " ".join([*said, f"It takes {len(acts)} steps."])

    def _acts(self, fault: BenchFault, way: Sequence[Stage]) -> tuple[Act, ...]:
        bench, events = self.faulty.person.bench, self.faulty.chain.events
        states = [self._state(stage) for stage in way]
        acts = [] if way[0].set == 0 else [self._change(fault, "from power-up on", states[0], states[0])]
        for at in range(1, len(way)):
            stage, was, now = way[at], states[at - 1], states[at]
            if stage.event == NOBODY:
                when = "the fault goes away by itself" if self.sets.has_gone(stage.set) else "a fault arrives"
                acts.append(self._change(fault, when, was, now))
            else:
                acts.append(act_of(bench, events[stage.event], was, now))
        return tuple(acts)

    def _change(self, fault: BenchFault, when: str, was: State, now: State) -> Act:
        bench = self.faulty.person.bench
        after = {device: now[device] for device in bench.devices}
        changes = changes_of(bench, was, now)
        return Act("fault", f"{when}: {fault.words}", ir.EventKind.FAULT, fault.device, changes, after)

    def _state(self, stage: Stage) -> State:
        there = () if self.sets.has_gone(stage.set) else self.sets.sets[stage.set]
        faults = {one.field: PRESENT if at in there else ABSENT for at, one in enumerate(self.faulty.faults)}
        return {**self.hunt.ground.layout.unpack(stage.word), **faults}
