"""Is the recording evidence at all: was every message there, fresh and in order, and is nothing unexplained?"""

from collections.abc import Iterator
from itertools import groupby
from typing import Final

from interlock.replay.finding import Finding
from interlock.replay.observation import Observation
from interlock.replay.stops import Period
from interlock.timing.edges import changes, holds_at
from interlock.timing.track import NO
from interlock.trace.model import Quality
from interlock.verdict import Verdict

__all__ = ["recording_of"]

_COMPLETE: Final = "every message came in time, fresh and in order, from the first frame to the last"
_SOURCE: Final = "the bench description, section shows"
_EXPLAINED: Final = "a torque-enable line falls only when a demand is seen"


def recording_of(seen: Observation, demands: list[Period]) -> Iterator[Finding]:
    """One finding for each message in doubt (or one that none is), and one for each stop without a demand."""
    doubts = sorted((one for one in seen.trace.quality if one.blinds), key=_subject)
    for subject, group in groupby(doubts, key=_subject):
        yield _in_doubt(subject, list(group))
    if not doubts:
        sentence = "Every message came in time, fresh and in order."
        yield Finding("recording", "all", "data_complete", Verdict.PASS, _COMPLETE, _SOURCE, sentence)
    yield from _unexplained(seen, demands)


def _subject(doubt: Quality) -> str:
    return doubt.message or "all"


def _in_doubt(subject: str, doubts: list[Quality]) -> Finding:
    more = f" (and {len(doubts) - 1} more such)" if len(doubts) > 1 else ""
    sentence = f"{doubts[0].place}: {doubts[0].sentence.rstrip('.')}{more}."
    return Finding("recording", subject, "data_complete", Verdict.INCONCLUSIVE, _COMPLETE, _SOURCE, sentence)


def _unexplained(seen: Observation, demands: list[Period]) -> Iterator[Finding]:
    for unit in seen.bench.required.effects.torque_off.of:
        track = seen.tracks.get(f"{unit}.enabled")
        for edge in [] if track is None else changes(track):
            if edge.to or any(holds_at(demand, edge) != NO for demand in seen.demands.values()):
                continue
            if any(_explains(demand, edge.when.lo, seen) for demand in demands):
                continue
            at = f"{edge.track.stamps_ns[edge.first_new] / 1e9:.3f} s"
            sentence = f"The torque-enable line of the {seen.device_name(unit)} fell at {at} with no demand in the log."
            yield Finding("bench", unit, "explained", Verdict.INCONCLUSIVE, _EXPLAINED, _SOURCE, sentence)


def _explains(demand: Period, at_ns: int, seen: Observation) -> bool:
    """Whether the demand began before, and not longer than torque off may take."""
    limit = seen.bench.required.effects.torque_off.within
    return (
        demand.onset is not None and demand.onset.when.lo <= at_ns <= (demand.onset.when.hi or at_ns) + limit
    )
