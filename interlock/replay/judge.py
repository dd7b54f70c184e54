"""A log judged against everything that the bench description requires."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from interlock.bench import Bench
from interlock.bench.required_models import Function
from interlock.bench.shows_models import Shows
from interlock.errors import InterlockError
from interlock.replay.attempts import attempts
from interlock.replay.channels import channels_of
from interlock.replay.effects import effects_of
from interlock.replay.ends import idle_ends
from interlock.replay.finding import Finding
from interlock.replay.latch import latch_of
from interlock.replay.observation import Observation
from interlock.replay.periods import Period, periods
from interlock.replay.recording import recording_of
from interlock.replay.repeat_rule import by_rule
from interlock.replay.scope import refuse_unjudged
from interlock.replay.stamps import late_stamps
from interlock.replay.stops import Stop, stops
from interlock.replay.supply import supply_of
from interlock.replay.unexplained import Story, unexplained_of
from interlock.trace.model import Trace
from interlock.verdict import Verdict, worst

__all__ = ["Judgement", "judge_trace"]

_MOST: Final = 400
"""More demands than this are a contact that chatters, or several tests in one log (common practice, no source)."""
_SOURCE: Final = "this software, to keep its work within bounds"


@dataclass(frozen=True)
class Judgement:
    """All findings on a trace, in order of the demands, and what they were read from."""

    observation: Observation
    stops: tuple[Stop, ...]
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of all findings."""
        return worst(finding.verdict for finding in self.findings)


def judge_trace(bench: Bench, trace: Trace) -> Judgement:
    """Judge a trace; raises InterlockError if the bench does not say how it shows in a log, or asks
    for what no log is judged by yet."""
    refuse_unjudged(bench)
    shows = _shows(bench)
    doubts = (*trace.quality, *late_stamps(trace, shows))
    seen = Observation(bench, shows, replace(trace, quality=doubts))
    demands = periods(seen)
    reset = seen.tracks.get(f"{bench.required.reset.by}.pressed")
    resets = [] if reset is None else attempts(reset, demands, bench.required.restart.no_sooner_than)
    found = stops(seen, resets, demands[:_MOST])
    shorter = idle_ends(seen, found, resets)
    if shorter:
        quality = tuple(replace(one, blinds=False) if one in shorter else one for one in trace.quality)
        return judge_trace(bench, replace(trace, quality=quality))
    judged = [finding for stop in found for finding in _of_stop(seen, stop)]
    judged += channels_of(seen, resets)
    missing = [
        one
        for name, function in bench.required.functions.items()
        for one in _unseen(seen, name, function, judged)
    ]
    missing += by_rule(bench.required.repeats, judged)
    rest = (*missing, *unexplained_of(seen, Story(resets, found)), *recording_of(seen), *_too_many(demands))
    return Judgement(seen, tuple(found), (*judged, *rest))


def _too_many(demands: list[Period]) -> Iterator[Finding]:
    if len(demands) > _MOST:
        requirement = f"a log that is judged holds at most {_MOST} demands"
        sentence = (
            f"The log holds {len(demands)} demands; only the first {_MOST} were judged. Judge it in pieces."
        )
        yield Finding(
            "recording", "all", "data_complete", Verdict.INCONCLUSIVE, requirement, _SOURCE, sentence
        )


def _shows(bench: Bench) -> Shows:
    if bench.shows is None:
        raise InterlockError(f"bench '{bench.bench.id}': it has no section 'shows'; add it to judge logs")
    return bench.shows


def _of_stop(seen: Observation, stop: Stop) -> Iterator[Finding]:
    yield from effects_of(seen, stop)
    yield from latch_of(seen, stop)
    yield from supply_of(seen, stop)


def _unseen(seen: Observation, name: str, function: Function, judged: list[Finding]) -> Iterator[Finding]:
    """What the function requires and no demand of it put to the test."""
    exercised = {
        (one.subject, one.effect) for one in judged if one.function == name and one.demand is not None
    }
    for subject, effect, requirement, source in _expected(seen, function):
        if (subject, effect) not in exercised:
            device = seen.device_name(function.demand)
            sentence = f"The log holds no demand by the {device} that puts this to the test: {requirement}."
            yield Finding(name, subject, effect, Verdict.NOT_OBSERVED, requirement, source, sentence)


def _expected(seen: Observation, function: Function) -> Iterator[tuple[str, str, str, str]]:
    required = seen.bench.required
    for effect in function.effects:
        stated = getattr(required.effects, effect)
        for subject in stated.of if isinstance(stated.of, list) else [stated.of]:
            yield subject, effect, f"{effect.replace('_', ' ')}: {seen.device_name(subject)}", stated.source
    for unit in required.effects.torque_off.of:
        name = seen.device_name(unit)
        yield unit, "stays_off", f"the {name} stays off until the lawful reset", required.reset.source
        yield unit, "reset_on_release", "the release of reset acts, not its press", required.reset.source
        yield (
            unit,
            "restart",
            f"the {name} waits for a person's start after the reset",
            required.restart.source,
        )
    if function.channels is not None:
        yield function.demand, "channels_agree", "both channels change together", function.channels.source
    if function.supply is not None:
        of, source = function.supply.of, function.supply.source
        yield of, "supply_on_dead", "supply-on is dead while the demand is latched", source
        yield of, "supply_stays_off", "the release does not bring the supply back", source
