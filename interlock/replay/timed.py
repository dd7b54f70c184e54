"""When an effect came for good, counted from its origin, and whether that was in time."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from interlock.interval import Interval, delay
from interlock.replay.advice import AGAIN, finer
from interlock.replay.finding import Finding, milliseconds
from interlock.replay.locked import is_locked
from interlock.replay.lone import LOOK, lone, without
from interlock.replay.observation import Observation
from interlock.replay.resets import needs_reset
from interlock.replay.stops import Stop
from interlock.replay.windows import Lasting
from interlock.timing.decision import judge
from interlock.timing.edges import changes
from interlock.timing.settle import Settled, Window, settled
from interlock.timing.track import BLIND, Track
from interlock.verdict import Verdict

__all__ = ["Wanted", "capital", "finding_of", "timed"]

_JUST_BEFORE_NS: Final = 1_000_000_000
"""An effect that came this shortly before its demand was seen may belong to it, with the demand shown late."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """An effect that a stop must have, and the words for it."""

    effect: str
    subject: str
    limit_ns: int
    requirement: str
    source: str
    done: str  # "the drive unit was without torque"
    since: str = "the demand"


def timed(
    seen: Observation, stop: Stop, wanted: Wanted, track: Track, lasting: Lasting, origin: Interval
) -> Iterator[Finding]:
    """How long after `origin` the track's condition ended for good within the window, judged against the limit.

    Nothing if the condition did not hold when the demand came: then the demand did not put the effect to the test.
    """
    got = settled(track, lasting.window)
    if not got.held and got.before != BLIND:
        if _ended_just_before(seen, stop, wanted, track):
            yield _too_early(stop, wanted)
        return
    if stop.demand is None and not got.held:
        return
    latency = _latency(stop, got, origin)
    verdict = judge(latency, wanted.limit_ns)
    onset_seen = stop.period.onset is None or not stop.period.onset.blind
    silent = verdict is Verdict.FAIL and seen.silent(stop.onset.lo, got.at.lo)
    blind = silent or got.blind_before or got.before == BLIND or not (onset_seen and lasting.sure)
    if silent or (blind and verdict is Verdict.PASS):
        verdict = Verdict.INCONCLUSIVE
    why = ""
    spike = _spike(seen, wanted, track, lasting, origin) if verdict is Verdict.FAIL else None
    if spike is not None:
        verdict, why = (
            Verdict.INCONCLUSIVE,
            f"one sample alone, at {spike / 1e9:.3f} s, speaks against it, its neighbours do not; {LOOK}",
        )
    elif verdict is Verdict.INCONCLUSIVE:
        why = _open(stop, track, got, latency, wanted.limit_ns, blind=blind)
    yield finding_of(stop, wanted, verdict, latency, _sentence(wanted, verdict, latency, got, why))


def _spike(seen: Observation, wanted: Wanted, track: Track, lasting: Lasting, origin: Interval) -> int | None:
    """Stamp of the one sample alone without which a measured torque or speed would have gone in time."""
    at = lone(seen, track, lasting.window) if wanted.effect in {"torque_off", "standstill"} else None
    if at is None:
        return None
    got = settled(without(track, at), lasting.window)
    late = judge(delay(origin, got.at), wanted.limit_ns) is Verdict.FAIL
    return None if late else int(track.stamps_ns[at])


def _latency(stop: Stop, got: Settled, origin: Interval) -> Interval:
    """From the origin to the effect, none of it negative; no upper bound for a demand older than the log."""
    raw = delay(origin, got.at)
    hi = None if stop.demand is None or raw.hi is None else max(0, raw.hi)
    return Interval(max(0, raw.lo), hi)


def _ended_just_before(seen: Observation, stop: Stop, wanted: Wanted, track: Track) -> bool:
    """Whether torque ended shortly before the demand was seen, though the unit was enabled until then."""
    enabled = seen.tracks.get(f"{wanted.subject}.enabled")
    if stop.demand is None or wanted.effect != "torque_off" or is_locked(seen.bench, stop.period.device):
        return False
    ends = [edge.when for edge in changes(track) if not edge.to]
    last = next((one for one in reversed(ends) if one.hi is not None and one.lo <= stop.onset.lo), None)
    if last is None or stop.onset.lo - last.lo >= _JUST_BEFORE_NS:
        return False
    explained = enabled is not None and settled(enabled, Window(last, stop.onset)).ended  # by another stop
    return not explained and not _asked_without_reset(seen, wanted.subject, last)


def _asked_without_reset(seen: Observation, unit: str, end: Interval) -> bool:
    """Whether a function that needs no reset, such as that of an enabling button, asked for the end of the torque."""
    required = seen.bench.required
    return any(
        settled(track, Window(end, end)).held
        for name, track in seen.asked.items()
        if not needs_reset(required, name) and unit in required.units_of(name)
    )


def _too_early(stop: Stop, wanted: Wanted) -> Finding:
    sentence = (
        f"{capital(wanted.done)} already when the demand was seen, but only just:"
        " either the stamps are out of order, or it was stopped otherwise; repeat the demand while it is running."
    )
    return finding_of(stop, wanted, Verdict.INCONCLUSIVE, None, sentence)


def finding_of(
    stop: Stop, wanted: Wanted, verdict: Verdict, latency: Interval | None, sentence: str
) -> Finding:
    """The finding that a wanted effect of a stop comes to."""
    return Finding(
        stop.name,
        wanted.subject,
        wanted.effect,
        verdict,
        wanted.requirement,
        wanted.source,
        sentence,
        stop.demand,
        latency,
        wanted.limit_ns,
    )


def _open(stop: Stop, track: Track, got: Settled, latency: Interval, limit_ns: int, *, blind: bool) -> str:
    """Why a latency decides nothing, and what would make it decide; a clause."""
    if got.at.hi is None and not got.blind_before:
        return "the log ends, or the bench was used again, before it was; record on, and wait with the reset until then"
    if blind:
        return (
            "frames are missing or not to be trusted there, or how long it had to last is not certain;"
            f" {AGAIN}"
        )
    shown = None if stop.period.onset is None else stop.period.onset.track
    return f"the samples are too coarse to tell; {finer([shown, track], limit_ns - latency.lo or None)}"


def _sentence(wanted: Wanted, verdict: Verdict, latency: Interval, got: Settled, why: str) -> str:
    limit = f"{wanted.limit_ns / 1e6:g} ms are allowed"
    match verdict:
        case Verdict.PASS:
            return f"{capital(wanted.done)} {milliseconds(latency)} after {wanted.since}; {limit}."
        case Verdict.FAIL if got.at.hi is None and got.again:
            return (
                f"{capital(wanted.done)} for a time only, and no longer so {milliseconds(latency)} after "
                f"{wanted.since}; {limit}."
            )
        case Verdict.FAIL if got.at.hi is None:
            return (
                f"It was not seen that {wanted.done}, {milliseconds(latency)} after {wanted.since}; {limit}."
            )
        case Verdict.FAIL:
            return (
                f"{capital(wanted.done)} for good only {milliseconds(latency)} after {wanted.since}; {limit}."
            )
    after = f"{milliseconds(latency)} after {wanted.since}"
    return f"Whether {wanted.done} in time cannot be said ({after}; {limit}): {why}."


def capital(text: str) -> str:
    """The text with a capital letter at its beginning."""
    return text[0].upper() + text[1:]
