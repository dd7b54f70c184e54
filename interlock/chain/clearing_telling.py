"""A fault that goes away by itself told: the acts, the state of every device after each, what the picture shows."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from interlock.bench import Bench
from interlock.chain import ir
from interlock.chain.bent import ABSENT, PRESENT, Faulty, present
from interlock.chain.clearing_result import Cleared
from interlock.chain.clearing_sets import GONE, ComingAndGoing, Member
from interlock.chain.fault_list import BenchFault
from interlock.chain.hunt import Found
from interlock.chain.losses import Loss, Rule, unreset_stop
from interlock.chain.missteps import Misstep, spoken_of
from interlock.chain.reference import State
from interlock.chain.rule_telling import rule_sentences
from interlock.chain.searched import Search
from interlock.chain.sight import NOBODY
from interlock.chain.story import Candidate, Part, Story, story_of
from interlock.chain.story_signals import candidates
from interlock.chain.trail import Stage
from interlock.chain.words import Act, act_of, changes_of

__all__ = ["ClearingTeller", "Harm"]


@dataclass(frozen=True, slots=True)
class Harm:
    """What the set of this number does that no less does: units that start, effects that are lost, broken rules."""

    number: int
    members: tuple[Member, ...]  # the fault that comes and goes; another one
    units: dict[str, Found] = field(default_factory=dict)
    lost: dict[tuple[str, str], Found] = field(default_factory=dict)
    rules: dict[Rule, Found] = field(default_factory=dict)

    def add(self, what: Loss | Misstep, found: Found) -> None:
        """One thing more that it does."""
        if what.rule is not None:
            self.rules[what.rule] = found
        elif isinstance(what, Misstep) and what.starts:
            self.units[what.device] = found
        else:
            self.lost[what.function, what.effect] = found

    @property
    def passing(self) -> bool:
        """There is another fault too, and it goes away as well."""
        return len(self.members) > 1 and self.members[1][1] == GONE

    @property
    def nearest(self) -> Found:
        """What shows after the fewest steps; a start before a loss, and that before a broken rule."""
        return min((self.units or self.lost or self.rules).values(), key=lambda one: one.steps)


class ClearingTeller:
    """Tells what a search over faults that come and go has found."""

    def __init__(self, faulty: Faulty, sets: ComingAndGoing, search: Search) -> None:
        self._faulty, self._sets, self._search = faulty, sets, search
        self._by_id = {one.id: one for one in faulty.faults}

    def told(self, harms: Iterable[Harm]) -> tuple[Cleared, ...]:
        """Each with the shortest way to it."""
        every = list(harms)
        to = self._search.ways(one.nearest for one in every)
        return tuple(self._told(one, to[one.nearest]) for one in every)

    def _told(self, harm: Harm, way: Sequence[Stage]) -> Cleared:
        functions = tuple(dict.fromkeys(function for function, _ in harm.lost))
        acts = tuple(self._acts(way))
        fault, *other = (self._by_id[name] for name, _ in harm.members)
        return Cleared(
            fault.id,
            fault.words,
            tuple(harm.units),
            functions,
            acts,
            self._sentence(harm, functions, acts),
            self._story(harm, way),
            other[0].id if other else None,
            other[0].words if other else "",
            tuple(harm.rules),
            passing=harm.passing,
        )

    def _sentence(self, harm: Harm, functions: Sequence[str], acts: Sequence[Act]) -> str:
        person, said = self._faulty.person, []
        gone = "both have" if harm.passing else "it has"
        if harm.units:
            called = " and the ".join(person.name(unit) for unit in harm.units)
            what = (
                "both have gone away by themselves" if harm.passing else "the fault has gone away by itself"
            )
            said.append(f"The {called} may begin to make torque unasked once {what}.")
        if functions:
            titles = ", ".join(f"'{person.functions[one].title}'" for one in functions)
            said.append(
                f"Once {gone} come and gone, the stop no longer lasts until a person's reset: {titles}."
            )
        if harm.rules:
            said += [f"Once {gone} come and gone:", *rule_sentences(person, harm.rules, harm.lost)]
        if len({name for name, _ in harm.members}) > 1:
            said.append("Neither of the two faults does that alone.")
        elif len(harm.members) > 1:
            said.append("Once alone it does not do that.")
        return " ".join([*said, f"It takes {len(acts)} step{'' if len(acts) == 1 else 's'}."])

    def _acts(self, way: Sequence[Stage]) -> Iterator[Act]:
        bench, events = self._faulty.person.bench, self._faulty.chain.events
        states = [self._state(stage) for stage in way]
        for fault in self._there(way[0]):
            yield self._change(fault, "from power-up on", states[0], states[0])
        for before, stage, was, now in zip(way, way[1:], states, states[1:], strict=False):
            if stage.event != NOBODY:
                yield act_of(bench, events[stage.event], was, now)
            else:
                yield self._come_or_gone(self._there(before), self._there(stage), was, now)

    def _come_or_gone(
        self, before: Sequence[BenchFault], after: Sequence[BenchFault], was: State, now: State
    ) -> Act:
        for one in before:
            if one not in after:
                return self._change(one, "the fault goes away by itself", was, now)
        [new] = [one for one in after if one not in before]
        return self._change(new, "a fault arrives", was, now)

    def _story(self, harm: Harm, way: Sequence[Stage]) -> Story:
        """A column for each act, those of faults among them, so that the picture shows when one goes."""
        faulty, what = self._faulty, self._search.sought(harm.nearest)
        states = [self._state(stage) for stage in way]
        columns = [states[0]] * (1 + len(self._there(way[0]))) + states[1:]
        involved = [self._by_id[name] for name in dict.fromkeys(name for name, _ in harm.members)]
        faults = [Candidate(Part.FAULT, one.device, f"{one.words}: there", present(one)) for one in involved]
        others = candidates(faulty.person, faulty.truth, unreset_stop, what.device)
        devices = {one.device for one in involved}
        shown = [*faults, *(one for one in others if one.part is not Part.WIRE or one.device in devices)]
        return story_of(faulty.person.bench, columns, shown, spoken_of(faulty.person, what))

    def _change(self, fault: BenchFault, when: str, was: State, now: State) -> Act:
        bench: Bench = self._faulty.person.bench
        after = {device: now[device] for device in bench.devices}
        changes = changes_of(bench, was, now)
        return Act("fault", f"{when}: {fault.words}", ir.EventKind.FAULT, fault.device, changes, after)

    def _there(self, stage: Stage) -> list[BenchFault]:
        """The faults that are there."""
        return [self._by_id[self._sets.faults[at]] for at in self._sets.sets[stage.set]]

    def _state(self, stage: Stage) -> State:
        there = {one.id for one in self._there(stage)}
        faults = {one.field: PRESENT if one.id in there else ABSENT for one in self._faulty.faults}
        return {**self._search.ground.layout.unpack(stage.word), **faults}
