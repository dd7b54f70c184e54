"""Ways under faults told in words: faults from the start or that arrive, acts, late reactions; and as a story."""

from collections.abc import Iterator, Mapping, Sequence

from interlock.bench import Bench
from interlock.chain import ir
from interlock.chain.bent import ABSENT, PRESENT, present
from interlock.chain.fault_list import BenchFault
from interlock.chain.fault_table import Explored
from interlock.chain.hunt import Found
from interlock.chain.losses import unreset_stop
from interlock.chain.missteps import Misstep, spoken_of
from interlock.chain.reference import State
from interlock.chain.sight import NOBODY
from interlock.chain.story import Candidate, Part, Story, story_of
from interlock.chain.story_signals import candidates
from interlock.chain.trail import Stage
from interlock.chain.words import Act, act_of, changes_of

__all__ = ["pictured", "told"]


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


def pictured(
    explored: Explored, way: Sequence[Stage], members: Mapping[int, BenchFault], found: Found
) -> Story:
    """The way as a story, with a column for each act that `told` gives."""
    faulty = explored.ground.faulty
    states = [_state(explored, stage) for stage in way]
    columns = [states[0]] * (1 + len(_of(explored, way[0]))) + states[1:]
    faults = _faults(explored, members)
    what = explored.search.sought(found)
    unit = None if isinstance(what, Misstep) and what.starts else what.device
    faulted = {fault.device for fault in members.values()}
    others = candidates(faulty.person, faulty.truth, unreset_stop, unit)
    shown = [*faults, *(one for one in others if one.part is not Part.WIRE or one.device in faulted)]
    return story_of(faulty.person.bench, columns, shown, spoken_of(faulty.person, what))


def _faults(explored: Explored, members: Mapping[int, BenchFault]) -> Iterator[Candidate]:
    for number, fault in members.items():
        yield Candidate(Part.FAULT, fault.device, fault.words, present(explored.faults[number]))


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
