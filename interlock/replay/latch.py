"""What must stay off after a stop, and what may bring it back: reset by its release, then a person's start."""

from collections.abc import Iterator
from typing import Final

from interlock.interval import Interval, delay
from interlock.replay.finding import Finding, milliseconds
from interlock.replay.observation import Observation
from interlock.replay.stops import Attempt, Stop
from interlock.timing.edges import Change, before, changes, holds_at
from interlock.timing.settle import Settled, settled
from interlock.timing.track import NO, YES, Track
from interlock.verdict import Verdict

__all__ = ["latch_of"]

_STAYS_OFF: Final = (
    "torque and torque-enable line stay off until reset was pressed and released, the demand being gone"
)
_RELEASE: Final = "the release of the reset button acts, not its press"
_START: Final = "after the reset torque stays away until a person starts and sets the references anew"


def latch_of(seen: Observation, stop: Stop) -> Iterator[Finding]:
    """For each unit: does it stay off, does the reset act by its release only, does torque wait for a start?"""
    for unit in seen.bench.required.effects.torque_off.of:
        yield from _stays_off(seen, stop, unit)
        yield from _reset_on_release(seen, stop, unit)
        yield from _restart(seen, stop, unit)


def _stays_off(seen: Observation, stop: Stop, unit: str) -> Iterator[Finding]:
    source, name = seen.bench.required.reset.source, seen.device_name(unit)
    ports = {f"{unit}.torque": "torque", f"{unit}.enabled": "the torque-enable line"}
    got = {
        what: settled(seen.tracks[port], stop.window) for port, what in ports.items() if port in seen.tracks
    }
    back = {what: _returned(seen, stop, one) for what, one in got.items()}
    verdict, sentence = Verdict.PASS, f"The {name} stayed off until the lawful reset."
    if any(times for times in back.values()):
        what, first = min(((what, times[0]) for what, times in back.items() if times), key=lambda one: one[1])
        verdict = Verdict.FAIL
        sentence = f"At {first / 1e9:.3f} s {what} of the {name} had come back before the lawful reset."
    elif stop.demand is not None and not any(one.held for one in got.values()):
        return
    elif any(one.blind_after or one.last_stamp_ns is None for one in got.values()):
        verdict = Verdict.INCONCLUSIVE
        sentence = f"Whether the {name} stayed off cannot be said: frames are missing or not to be trusted."
    elif any(one.at.hi is None for one in got.values()):
        verdict, sentence = Verdict.INCONCLUSIVE, f"The {name} was not seen to be off before the stop ended."
    elif stop.reset is None:
        verdict = Verdict.INCONCLUSIVE
        sentence = f"The {name} stayed off to the end of the log, which ends before a reset."
    elif stop.reset.lawful is None:
        verdict = Verdict.INCONCLUSIVE
        at = _at(stop.reset.release)
        sentence = f"The {name} stayed off until {at}, when a reset may have gone unseen or come too early."
    elif _restarted_by_itself(seen, stop, unit):
        verdict, sentence = (
            Verdict.FAIL,
            f"The {name} made torque again after the reset, with no start by a person.",
        )
    if stop.demand is not None or verdict is not Verdict.PASS:
        yield Finding(stop.name, unit, "stays_off", verdict, _STAYS_OFF, source, sentence, stop.demand)


def _returned(seen: Observation, stop: Stop, got: Settled) -> tuple[int, ...]:
    """Stamps at which it was back: any after the limit for torque off, or two in a row before it."""
    limit = (stop.onset.hi or 0) + seen.bench.required.effects.torque_off.within
    late = tuple(stamp for stamp in got.returned if stamp > limit)
    return late or (got.returned if len(got.returned) > 1 else ())


def _restarted_by_itself(seen: Observation, stop: Stop, unit: str) -> bool:
    """Whether torque surely came back sooner than a person could start it, or with the references still zero."""
    track = seen.tracks.get(f"{unit}.torque")
    start = None if track is None else _start_after(seen, stop, track)
    if start is None or stop.reset is None:
        return False
    waited = delay(stop.reset.release.when, start.when)
    return _by_person(waited, seen.bench.required.restart.no_sooner_than)[0] is Verdict.FAIL or (
        _set_anew(seen, stop, start) is Verdict.FAIL and not _references_kept(seen, stop)
    )


def _references_kept(seen: Observation, stop: Stop) -> bool:
    stated = seen.bench.required.effects.references_zero
    track = None if stated is None else seen.tracks.get(f"{stated.of}.set")
    return track is not None and stop.reset is not None and holds_at(track, stop.reset.release) == YES


def _reset_on_release(seen: Observation, stop: Stop, unit: str) -> Iterator[Finding]:
    track = seen.tracks.get(f"{unit}.enabled", seen.tracks.get(f"{unit}.torque"))
    rise = None if track is None else _first_rise(track, stop)
    if rise is None or not stop.late or (stop.demand is None and _resolved(stop, rise)):
        return
    source, name = seen.bench.required.reset.source, seen.device_name(unit)
    verdict, why = _by_release(stop, rise)
    if verdict is not None:
        sentence = f"The {name} was enabled again at about {_at(rise)}: {why}."
        yield Finding(stop.name, unit, "reset_on_release", verdict, _RELEASE, source, sentence, stop.demand)


def _resolved(stop: Stop, rise: Change) -> bool:
    return _by_release(stop, rise)[0] is Verdict.PASS


def _by_release(stop: Stop, rise: Change) -> tuple[Verdict | None, str]:
    """How the first enabling after a stop lies to the resets; None: nobody had pressed reset at all."""
    done = [one for one in stop.late if before(one.release, rise) is True]
    if any(one.lawful is True for one in done):
        return Verdict.PASS, "after the reset button was let go"
    if any(one.lawful is None for one in done):
        return (
            Verdict.INCONCLUSIVE,
            "but the reset had been pressed while the demand may still have been present",
        )
    if any(one.lawful is False for one in done) and not _pressing(stop, rise):
        return Verdict.FAIL, "by a reset pressed or released while a demand was present"
    pressing = _pressing(stop, rise)
    if pressing is None:
        return None, ""
    if before(rise, pressing.release) is True:
        return Verdict.FAIL, "while the reset button was still pressed"
    return Verdict.INCONCLUSIVE, "at the same sample at which the reset button was let go"


def _pressing(stop: Stop, rise: Change) -> Attempt | None:
    """The attempt whose press surely came before the rise and whose release surely did not."""
    return next(
        (
            one
            for one in stop.late
            if before(one.release, rise) is not True
            and (one.press is None or before(one.press, rise) is True)
        ),
        None,
    )


def _first_rise(track: Track, stop: Stop) -> Change | None:
    edges = (edge for edge in changes(track) if edge.to)
    return next(
        (edge for edge in edges if stop.period.onset is None or before(stop.period.onset, edge) is True), None
    )


def _restart(seen: Observation, stop: Stop, unit: str) -> Iterator[Finding]:
    track = seen.tracks.get(f"{unit}.torque")
    if track is None or stop.reset is None:
        return
    start = _start_after(seen, stop, track)
    if start is None:
        return
    rule, name = seen.bench.required.restart, seen.device_name(unit)
    waited = delay(stop.reset.release.when, start.when)
    verdict, why = _by_person(waited, rule.no_sooner_than)
    anew = _set_anew(seen, stop, start)
    if anew is not Verdict.PASS and verdict is not Verdict.FAIL:
        verdict = anew
        why = (
            "before or without the references being set anew"
            if anew is Verdict.FAIL
            else "and the references are unclear"
        )
    wait = milliseconds(Interval(max(0, waited.lo), waited.hi))
    sentence = f"The {name} made torque again {wait} after the reset, {why}."
    if stop.demand is not None or verdict is not Verdict.PASS:
        yield Finding(stop.name, unit, "restart", verdict, _START, rule.source, sentence, stop.demand)


def _start_after(seen: Observation, stop: Stop, track: Track) -> Change | None:
    """The first rise of torque after the reset and before any later demand."""
    assert stop.reset is not None  # noqa: S101 - the caller has looked
    rises = [edge for edge in changes(track) if edge.to and before(edge, stop.reset.release) is not True]
    onsets = [edge for one in seen.demands.values() for edge in changes(one) if edge.to]
    later = [edge for edge in onsets if before(stop.reset.release, edge) is True]
    return next((edge for edge in rises if all(before(edge, one) is not False for one in later)), None)


def _by_person(waited: Interval, needed_ns: int) -> tuple[Verdict, str]:
    if waited.hi is not None and waited.hi < needed_ns:
        return Verdict.FAIL, f"sooner than a person could have started it ({needed_ns / 1e6:g} ms)"
    if waited.lo < needed_ns:
        return (
            Verdict.INCONCLUSIVE,
            f"perhaps sooner than a person could have started it ({needed_ns / 1e6:g} ms)",
        )
    return Verdict.PASS, "time enough for a person to start it and to set the references anew"


def _set_anew(seen: Observation, stop: Stop, start: Change) -> Verdict:
    """Whether the references were zero at the reset and not set later than the start."""
    stated = seen.bench.required.effects.references_zero
    track = None if stated is None else seen.tracks.get(f"{stated.of}.set")
    if track is None or stop.reset is None:
        return Verdict.PASS
    at_reset = holds_at(track, stop.reset.release)
    if at_reset == YES:
        return Verdict.FAIL
    anew = [edge for edge in changes(track) if edge.to and before(edge, stop.reset.release) is not True]
    if not anew or before(start, anew[0]) is True:
        return Verdict.FAIL if at_reset == NO else Verdict.INCONCLUSIVE
    return Verdict.PASS if at_reset == NO and not anew[0].blind else Verdict.INCONCLUSIVE


def _at(edge: Change) -> str:
    return f"{edge.track.stamps_ns[edge.first_new] / 1e9:.3f} s"
