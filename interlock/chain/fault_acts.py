"""Ways under faults told in words: faults from the start or that arrive, acts, late reactions."""

from collections.abc import Mapping, Sequence

from interlock.bench import Bench
from interlock.chain import ir
from interlock.chain.bent import ABSENT, PRESENT
from interlock.chain.fault_list import BenchFault
from interlock.chain.fault_table import Explored
from interlock.chain.hunt import Found
from interlock.chain.reference import State
from interlock.chain.sight import NOBODY
from interlock.chain.trail import Goal, Stage, trails
from interlock.chain.words import Act, act_of, changes_of

__all__ = ["steps_in", "told", "ways"]


def ways(explored: Explored, found: Sequence[Found]) -> dict[Found, tuple[Stage, ...]]:
    """A shortest way to each thing found, with the event that shows it at its end."""
    ends = {one: one.goal for one in found}
    to: Mapping[Goal, tuple[Stage, ...]] = trails(explored.spread, ends.values())
    return {one: (*to[goal], *(() if one.then is None else (one.then,))) for one, goal in ends.items()}


def steps_in(way: Sequence[Stage]) -> int:
    """How many events a way has after power-up, arrivals of faults among them."""
    return len(way) - 1


def told(explored: Explored, way: Sequence[Stage], members: Mapping[int, BenchFault]) -> tuple[Act, ...]:
    """The way in words; `members`: the fault that stands for each class of the set."""
    bench = explored.ground.faulty.person.bench
    states = [_state(explored, stage) for stage in way]
    acts = [
        _fault(bench, members[one], "from power-up on", states[0], states[0]) for one in _of(explored, way[0])
    ]
    for at in range(1, len(way)):
        stage, was, now = way[at], states[at - 1], states[at]
        if stage.event == NOBODY:
            [new] = set(_of(explored, stage)) - set(_of(explored, way[at - 1]))
            acts.append(_fault(bench, members[new], "a fault arrives", was, now))
        else:
            acts.append(act_of(bench, explored.ground.faulty.chain.events[stage.event], was, now))
    return tuple(acts)


def _fault(bench: Bench, fault: BenchFault, when: str, was: State, now: State) -> Act:
    after = {device: now[device] for device in bench.devices}
    changes = changes_of(bench, was, now)
    return Act("fault", f"{when}: {fault.words}", ir.EventKind.FAULT, fault.device, changes, after)


def _of(explored: Explored, stage: Stage) -> tuple[int, ...]:
    """The classes of faults that are present."""
    return explored.sets.sets[stage.set]


def _state(explored: Explored, stage: Stage) -> State:
    there = set(_of(explored, stage))
    faults = {fault.field: PRESENT if at in there else ABSENT for at, fault in enumerate(explored.faults)}
    return {**explored.ground.layout.unpack(stage.word), **faults}
