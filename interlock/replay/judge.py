"""A log judged against everything that the bench description requires."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from interlock.bench import Bench
from interlock.bench.shows_models import Shows
from interlock.errors import InterlockError
from interlock.replay.channels import channels_of
from interlock.replay.continuity import leaps_of
from interlock.replay.decision_rule import by_decision
from interlock.replay.disorder import in_disorder
from interlock.replay.effects import effects_of
from interlock.replay.ends import idle_ends
from interlock.replay.exercised import missing_of
from interlock.replay.finding import Finding
from interlock.replay.latch import latch_of
from interlock.replay.limits import notes_of
from interlock.replay.locked import locked_of
from interlock.replay.missing_time import missing_time
from interlock.replay.mode_rules import mode_rules_of
from interlock.replay.observation import Observation
from interlock.replay.periods import Period, demands_of
from interlock.replay.recording import recording_of
from interlock.replay.repeat_rule import by_rule
from interlock.replay.resets import Resets
from interlock.replay.scope import refuse_unshown
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

    @property
    def notes(self) -> tuple[str, ...]:
        """What the readers of the files and the limits of this bench's logs leave to be said."""
        return (*self.observation.trace.notes, *notes_of(self.observation))


def judge_trace(bench: Bench, trace: Trace) -> Judgement:
    """Judge a trace; raises InterlockError if the bench does not say how it, its modes or its resets show in a log."""
    shows = _shows(bench)
    refuse_unshown(bench, shows)
    late = tuple(late_stamps(trace, shows))
    missing = missing_time(trace, shows, late, bench.required.restart.no_sooner_than)
    doubts = (*trace.quality, *late, *missing, *in_disorder(trace, shows))
    doubts += tuple(leaps_of(bench, shows, replace(trace, quality=doubts)))
    seen = Observation(bench, shows, replace(trace, quality=doubts))
    demands = demands_of(seen)
    resets = Resets(seen, demands)
    found = stops(seen, resets, demands[:_MOST])
    shorter = idle_ends(seen, found, resets.all)
    if shorter:
        quality = tuple(replace(one, blinds=False) if one in shorter else one for one in trace.quality)
        return judge_trace(bench, replace(trace, quality=quality))
    judged = [finding for stop in found for finding in _of_stop(seen, stop, found)]
    judged += [*channels_of(seen, resets), *mode_rules_of(seen)]
    judged = by_decision(bench.required.decision, judged)
    untested = list(missing_of(seen, found, judged))
    stated = bench.required.decision
    untested += by_rule(bench.required.repeats, judged, 0 if stated is None else stated.measuring_chain)
    rest = (*untested, *unexplained_of(seen, Story(resets, found)), *recording_of(seen), *_too_many(demands))
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


def _of_stop(seen: Observation, stop: Stop, every: list[Stop]) -> Iterator[Finding]:
    yield from locked_of(seen, stop)
    yield from effects_of(seen, stop)
    yield from latch_of(seen, stop, every)
    yield from supply_of(seen, stop)
