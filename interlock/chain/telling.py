"""What was judged, told: a property's verdict in one sentence and its acts in words."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from interlock.bench import kinds_of
from interlock.chain import ir, reference
from interlock.chain.judge import Judged, judge
from interlock.chain.observers import observers
from interlock.chain.property import CanReach, NeverLasts, NeverOnSchedule, NeverStep, Property
from interlock.chain.reach import Reached
from interlock.chain.requirement import Requirement
from interlock.chain.result import PropertyResult, Witness
from interlock.chain.story import Story, story_of
from interlock.chain.story_signals import candidates
from interlock.chain.watched import Watched
from interlock.chain.words import Act, tell
from interlock.verdict import Verdict

__all__ = ["Teller", "unverified"]


class Teller:
    """Judges properties over one exploration and tells the outcome."""

    def __init__(
        self, required: Requirement, watched: Watched, reached: Callable[[], Reached] | None = None
    ) -> None:
        self._required, self._watched, self._reached = required, watched, reached
        self._bench, self._events = required.bench, required.compiled.chain.events

    def result(self, one: Property) -> PropertyResult:
        """The property judged, with the shortest ways to its violation and to its premises."""
        judged = judge(self._watched, self._events, one, self._reached)
        if one.undecided and judged.verdict is Verdict.PASS:
            judged = replace(judged, verdict=Verdict.INCONCLUSIVE)
        witnesses = tuple(
            Witness(premise.what, None if way is None else self._tell(way))
            for premise, way in zip(one.premises, judged.premises, strict=True)
        )
        acts = () if judged.way is None else self._tell(judged.way)
        story = None if judged.way is None else self._story(one, judged.way)
        return _result(one, judged.verdict, self._sentence(one, judged), acts, witnesses, story)

    def _tell(self, way: tuple[int, ...]) -> tuple[Act, ...]:
        return tell(self._bench, self._events, self._watched, way)

    def _story(self, one: Property, way: tuple[int, ...]) -> Story:
        shown = candidates(self._required, self._required, unit=one.subject)
        about = [] if one.function is None else [self._required.functions[one.function].demand]
        about += [] if one.subject is None else [one.subject]
        return story_of(self._bench, list(self._states(way)), shown, _spoken_of(one).union(about))

    def _states(self, way: tuple[int, ...]) -> Iterator[reference.State]:
        """The state at power-up and after each event of a way, with everything that observers remember."""
        memory, chain = observers(self._required), self._required.compiled.chain
        start = reference.start(chain)
        blank = {one.field.name: one.field.start for one in memory}
        yield (was := reference.watch(memory, {**start, **blank}, start, None))
        for edge in way:
            devices = self._watched.unpack(int(self._watched.target[edge]))
            now = {field.name: devices[field.name] for field in chain.fields}
            was = reference.watch(memory, was, now, self._watched.event_of(edge))
            yield was

    def _sentence(self, one: Property, judged: Judged) -> str:
        states = f"{judged.seen or len(self._watched.state):,}"
        match judged.verdict:
            case Verdict.PASS:
                return f"Holds in each of the {states} situations that the bench can get into."
            case Verdict.INCONCLUSIVE if one.undecided and self._watched.whole:
                return f"Not verified: {one.undecided}"
            case Verdict.INCONCLUSIVE:
                return f"Not verified: {_how_far(one, judged, self._watched)}."
            case Verdict.NOT_OBSERVED:
                return f"Never put to the test: it does not occur that {_missing(one, judged)}."
            case Verdict.FAIL:
                return self._violated(one, judged)

    def _violated(self, one: Property, judged: Judged) -> str:
        way = judged.way or ()
        steps = {0: "Right after power-up", 1: "After this step"}
        complaint = one.complaint.replace("{who}", " and the ".join(judged.culprits))
        complaint = complaint.replace("{s}", "s" if len(judged.culprits) == 1 else "")
        if one.function is not None:
            complaint = complaint.replace("{state}", self._demand(one.function, way))
        slow = _too_slow(one, self._ending(one, way)) if judged.too_late and not judged.again else ""
        again = _again(one) if judged.again else ""
        return f"{steps.get(len(way), f'After these {len(way)} steps')} {complaint}{slow}.{again}"

    def _ending(self, one: Property, way: tuple[int, ...]) -> str:
        """The fewest late reactions, one after the other, that end what must not last."""
        watched, start = self._watched, self._watched.end(way)
        terms = one.claim.culprits.values() if isinstance(one.claim, NeverLasts) else ()
        bad, before, level = watched.nodes_where(ir.any_of(terms)), {start: -1}, [start]
        while level and all(bad[node] for node in level):
            edges = [edge for node in level for edge in watched.late_from(node, self._events)]
            fresh = {int(watched.target[edge]): edge for edge in reversed(edges)}
            level = [node for node in fresh if node not in before]
            before |= {node: fresh[node] for node in level}
        told, ends = list[str](), [node for node in level if not bad[node]]
        while ends and (edge := before[ends[0]]) >= 0:
            event, ends = self._events[watched.event_of(edge)], [int(watched.source[edge])]
            called = self._bench.devices[event.device].name
            told.append(
                f"the {event.trigger.replace('_', ' ')} of the {called} (up to {event.delay_ns / 1e6:g} ms)"
            )
        return " and then ".join(reversed(told))

    def _demand(self, function: str, way: tuple[int, ...]) -> str:
        """The state of the function's demanding device at the end of a way, in its kind's words."""
        device = self._bench.required.functions[function].demand
        state = self._watched.unpack(self._watched.end(way))[device]
        return kinds_of(self._bench)[self._bench.devices[device].kind].states[state]


def _how_far(one: Property, judged: Judged, watched: Watched) -> str:
    """What was looked at of a property that is not verified, what was found there, and what was not looked at."""
    many = f"{len(watched.state):,}"
    if watched.whole:
        return (
            f"no violation was found in any of the {many} situations that the bench can get into, but the moments at "
            "which late reactions may come there were too many to look at all of them"
        )
    found = f"no violation was found in the {many} situations that were looked at"
    for_all = f"can be told only where every situation is looked at, and {many} were"
    if isinstance(one.claim, CanReach):
        found = f"whether it stays possible {for_all}"
    if isinstance(one.claim, NeverStep) and not judged.timed:
        found = f"whether the timers outlast the run-down {for_all}"
    return (
        f"{found}. These are all that the bench can get into within {watched.steps} steps (acts and late reactions) "
        "from power-up, and some beyond. It can get into more, and nothing is known of those: the search is given up "
        f"beyond {watched.shortfall}"
    )


def unverified(one: Property, why: str) -> PropertyResult:
    """A property of a bench that could not be explored at all."""
    witnesses = tuple(Witness(premise.what, None) for premise in one.premises)
    return _result(one, Verdict.INCONCLUSIVE, f"Not verified: {why}.", (), witnesses)


def _result(
    one: Property,
    verdict: Verdict,
    sentence: str,
    acts: tuple[Act, ...],
    premise: tuple[Witness, ...],
    story: Story | None = None,
) -> PropertyResult:
    return PropertyResult(
        one.id,
        one.function,
        one.subject,
        one.title,
        verdict,
        one.requirement,
        one.source,
        sentence,
        acts,
        premise,
        story,
    )


def _spoken_of(one: Property) -> frozenset[str]:
    """The devices and memories that the property forbids or wants something of."""
    match one.claim:
        case NeverStep(culprits) | NeverLasts(culprits) | NeverOnSchedule(culprits):
            terms = culprits.values()
        case CanReach(goals, _, _):
            terms = goals.values()
    atoms = (atom for term in terms for atom in ir.atoms(term))
    return frozenset(atom.field for atom in atoms if not isinstance(atom, ir.By))


def _too_slow(one: Property, ending: str) -> str:
    limit = one.claim.within_ns if isinstance(one.claim, NeverLasts) else None
    allowed = "" if limit is None else f"; at most {limit / 1e6:g} ms are allowed"
    return f", until a late reaction comes, which by the data sheets may take too long: {ending}{allowed}"


def _again(one: Property) -> str:
    limit = one.claim.within_ns if isinstance(one.claim, NeverLasts) else None
    allowed = "" if limit is None else f", and at most {limit / 1e6:g} ms are allowed"
    return f" Before, within the same demand, that had been in order: the time counts from the demand on{allowed}."


def _missing(one: Property, judged: Judged) -> str:
    pairs = zip(one.premises, judged.premises, strict=True)
    return "; that ".join(premise.what for premise, way in pairs if way is None)
