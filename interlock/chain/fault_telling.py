"""The faults of an exploration told one by one: what each loses, whether it shows, by which acts, in one sentence."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import product

from interlock.chain.bent import Faulty
from interlock.chain.fault_acts import pictured, told
from interlock.chain.fault_list import BenchFault
from interlock.chain.fault_result import Example, FaultResult
from interlock.chain.fault_table import Effect, Explored, minimal
from interlock.chain.hunt import Found
from interlock.chain.losses import Loss, Rule
from interlock.chain.missteps import Misstep
from interlock.chain.rule_telling import endangers, rule_asked, rule_sentences
from interlock.chain.shown import Showing, Shown
from interlock.chain.trail import Stage

__all__ = ["FaultTeller"]


@dataclass(frozen=True, slots=True)
class _Case:
    """What is told of one set of classes."""

    number: int
    effects: tuple[Effect, ...]
    restarts: tuple[str, ...]
    rules: tuple[Rule, ...]
    minimal: bool
    found: Found | None
    shown: Shown
    required: Mapping[str, Found]  # what the bench file requires to withstand faults: where it does not


class FaultTeller:
    """Tells every single fault, and every larger set that does what no smaller one does."""

    def __init__(self, faulty: Faulty, explored: Explored) -> None:
        self._faulty, self._explored = faulty, explored
        self.showing = Showing(explored)
        self.minimal: Mapping[Effect, frozenset[int]] = {
            effect: minimal(explored.sets, list(found)) for effect, found in explored.lost.items()
        }
        self._restarting = {
            unit: minimal(explored.sets, list(found)) for unit, found in explored.restarted.items()
        }
        self._breaking = {rule: self._newly(rule, found) for rule, found in explored.broken.items()}

    def results(self) -> tuple[FaultResult, ...]:
        """Single faults in the bench's order, then pairs, then triples."""
        cases = [self._case(number) for number in self._told()]
        ends = [case.found for case in cases if case.found is not None]
        to = self._explored.search.ways([*ends, *(one for case in cases for one in case.required.values())])
        found = [result for case in cases for result in self._results(case, to)]
        found += [self._idle(fault) for fault in self._explored.groups.idle]
        order = {fault.id: at for at, fault in enumerate(self._faulty.faults)}
        return tuple(sorted(found, key=lambda one: (len(one.set), [order[fault] for fault in one.set])))

    def _newly(self, rule: Rule, found: Mapping[int, Found]) -> frozenset[int]:
        """The sets that break the rule of which no smaller one does, nor loses all of the stop that it is of."""
        lost = self._explored.lost.get((rule.of, "torque_off"), {})
        return minimal(self._explored.sets, [*{**found, **lost}]) & found.keys()

    def _told(self) -> list[int]:
        sets = self._explored.sets.sets
        single = {number for number, one in enumerate(sets) if len(one) == 1}
        least = (*self.minimal.values(), *self._restarting.values(), *self._breaking.values())
        return sorted(single.union(*least) - {0})

    def _case(self, number: int) -> _Case:
        explored = self._explored
        effects = tuple(effect for effect, found in explored.lost.items() if number in found)
        units = tuple(unit for unit, found in explored.restarted.items() if number in found)
        rules = tuple(rule for rule, found in explored.broken.items() if number in found)
        least = any(number in self.minimal[effect] for effect in effects)
        least = least or any(number in self._breaking[rule] for rule in rules)
        nearest, required = self._nearest(number), dict(self._required(number))
        return _Case(number, effects, units, rules, least, nearest, self.showing.of(number), required)

    def _required(self, number: int) -> Iterator[tuple[str, Found]]:
        """The nearest loss of each function, start of each unit and breach of each rule that must withstand faults."""
        required, lost = self._faulty.person.bench.required, self._explored.lost
        for name, function in required.functions.items():
            seen = [found[number] for (of, _), found in lost.items() if of == name and number in found]
            if seen and (function.single_fault_tolerant or function.accumulation_tolerant):
                yield name, min(seen, key=lambda one: one.steps)
        for unit, found in self._explored.restarted.items():
            if required.restart.single_fault_tolerant and number in found:
                yield unit, found[number]
        for rule, found in self._explored.broken.items():
            if number in found and rule_asked(required, rule):
                yield rule.key, found[number]

    def _nearest(self, number: int) -> Found | None:
        """What a reader should see of the set: the nearest loss that no smaller set has, else a restart or a rule."""
        explored = self._explored
        new = [found[number] for effect, found in explored.lost.items() if number in self.minimal[effect]]
        restarts = [found[number] for unit, found in explored.restarted.items() if number in found]
        old = [found[number] for found in explored.lost.values() if number in found]
        rules = [found[number] for rule, found in explored.broken.items() if number in self._breaking[rule]]
        also = [found[number] for found in explored.broken.values() if number in found]
        for choice in (new, restarts, rules, old, also):
            if choice:
                return min(choice, key=lambda one: one.steps)
        return None

    def _results(self, case: _Case, to: Mapping[Found, tuple[Stage, ...]]) -> Iterator[FaultResult]:
        classes = self._explored.sets.sets[case.number]
        for members in product(*(self._explored.groups.alike[one] for one in classes)):
            yield self._result(case, to, members, dict(zip(classes, members, strict=True)))

    def _result(
        self,
        case: _Case,
        to: Mapping[Found, tuple[Stage, ...]],
        members: tuple[BenchFault, ...],
        by: Mapping[int, BenchFault],
    ) -> FaultResult:
        shown, way = case.shown, () if case.found is None else to[case.found]
        lost = tuple(dict.fromkeys(function for function, _ in case.effects))
        verified = self._verified(case.number)
        return FaultResult(
            tuple(one.id for one in members),
            tuple(one.words for one in members),
            lost,
            case.effects,
            case.restarts,
            shown.detected,
            shown.at,
            shown.by,
            bool(shown.masked_by),
            case.minimal,
            self._unnoticed(case, lost),
            verified,
            told(self._explored, way, by) if way else (),
            self._sentence(case, lost, way, verified, members),
            max(0, len(way) - 1),
            None if case.found is None else pictured(self._explored, way, by, case.found),
            tuple(self._example(name, one, to[one], by) for name, one in case.required.items()),
            case.rules,
            tuple(
                (unit, self._faulty.person.name(unit))
                for unit in dict.fromkeys((*case.restarts, *(one.unit for one in case.rules)))
            ),
            members[0].fault.may_exclude if len(members) == 1 else "",
            not self._explored.unshown,
        )

    def _example(
        self, of: str, found: Found, way: tuple[Stage, ...], by: Mapping[int, BenchFault]
    ) -> Example:
        acts, story = told(self._explored, way, by), pictured(self._explored, way, by, found)
        return Example(of, len(way) - 1, acts, story)

    def _unnoticed(self, case: _Case, lost: tuple[str, ...]) -> tuple[str, ...]:
        """The functions that the set newly loses without being found by their own demands before."""
        if self._explored.revealed is None:
            return ()
        new = {function for function, effect in case.effects if case.number in self.minimal[function, effect]}
        hidden = self.showing.hidden_order
        return tuple(one for one in lost if one in new and hidden(case.number, one) is not None)

    def _verified(self, number: int) -> bool:
        return not self._explored.shortfall and not self._explored.restless[number]

    def _sentence(
        self,
        case: _Case,
        lost: tuple[str, ...],
        way: tuple[Stage, ...],
        verified: bool,
        members: tuple[BenchFault, ...],
    ) -> str:
        said = [*self._what_happens(case, lost, way)]
        if not said:
            said = ["It loses no function." if verified else f"Not verified: {self._why(case.number)}."]
        said += self._what_shows(case, several=len(members) > 1)
        said += self._adds_up(case) if len(members) == 1 else ()
        return " ".join(said)

    def _why(self, number: int) -> str:
        if self._explored.shortfall:
            return self._explored.shortfall
        return "with it, devices keep changing each other at once and for ever"

    def _what_happens(self, case: _Case, lost: tuple[str, ...], way: tuple[Stage, ...]) -> Iterator[str]:
        many = len(way) + (len(self._explored.sets.sets[way[0].set]) if way else 0) - 1
        steps = {0: "right after power-up", 1: "after this step"}.get(many, f"after these {many} steps")
        functions = self._faulty.person.functions
        if lost:
            titles = ", ".join(f"'{functions[one].title}'" for one in lost)
            yield f"{'This is' if len(lost) == 1 else 'These are'} no longer certain: {titles}."
        said = list(rule_sentences(self._faulty.person, case.rules, case.effects))
        yield from said if lost or case.restarts or not said else ("It loses no function.", *said)
        what = None if case.found is None else self._explored.search.sought(case.found)
        starts = isinstance(what, Misstep) and what.starts
        if case.found is not None and what is not None and not starts:
            brief = case.found.brief and isinstance(what, Loss)
            late = ", later than allowed after the demand" if brief else ""
            yield f"For example: {steps} {what.complaint}{late}."
        if case.restarts:
            units = " and the ".join(self._faulty.person.name(unit) for unit in case.restarts)
            yield f"Restart hazard: the {units} may begin to make torque although nobody means to start."
        if what is not None and starts:
            yield f"For example: {steps} {what.complaint}."

    def _what_shows(self, case: _Case, *, several: bool) -> Iterator[str]:
        shown = case.shown
        if shown.detected:
            yield (
                "Whichever of them comes first is noticed before the next can come."
                if several
                else f"It is noticed {shown.at}."
            )
        elif several and self._explored.revealed is None:
            yield "Whether one of them is noticed before the next comes is not verified."
        elif several:
            yield "They can add up, one after the other, without being noticed."
        elif self._explored.revealed is None:
            yield "Whether it is noticed is not verified."
        else:
            harms = case.effects or case.restarts or endangers(case.rules)
            yield (
                "Nothing shows it before somebody is in danger." if harms else "No stop is sure to reveal it."
            )
            if shown.at is not None:
                yield f"It shows only then: {shown.at}."
        if shown.masked_by:
            yield f"But operating the {self._devices(shown.masked_by)} before the reset hides it (ISO/TR 24119)."

    def _adds_up(self, case: _Case) -> Iterator[str]:
        """What an undetected fault does together with a second one."""
        [one] = self._explored.sets.sets[case.number]
        sets = self._explored.sets.sets
        least = sorted(frozenset[int]().union(*self.minimal.values()))
        seconds = [
            other
            for number in least
            if len(sets[number]) == 2 and one in sets[number]
            for other in sets[number]
            if other != one
        ]
        if case.shown.detected or not seconds:
            return
        kinds = (
            "one kind of second fault"
            if len(seconds) == 1
            else f"each of {len(seconds)} kinds of second faults"
        )
        yield f"Together with {kinds} more is lost, such as with this one: {self._explored.faults[seconds[0]].words}."

    def _devices(self, functions: Iterable[str]) -> str:
        required = self._faulty.person
        return " or the ".join(required.name(required.functions[one].demand) for one in functions)

    def _idle(self, fault: BenchFault) -> FaultResult:
        sentence = "Nothing on this bench depends on it: it loses no function, and nothing shows it."
        return FaultResult(
            (fault.id,), (fault.words,), (), (), (), False, None, (), False, False, (), True, (), sentence
        )
