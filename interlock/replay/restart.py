"""What may bring motion back after the reset: a person, who starts the units and sets the references anew."""

from collections.abc import Iterator
from itertools import islice
from typing import Final

from interlock.interval import Interval, delay
from interlock.replay.advice import AGAIN, finer
from interlock.replay.attempts import Attempt, doubt_of
from interlock.replay.finding import Finding, milliseconds
from interlock.replay.modes import MODE_CHANGE
from interlock.replay.observation import Observation
from interlock.replay.resets import by_supply_on
from interlock.replay.starting import (
    ended_by_mode,
    held,
    is_start,
    pressed_between,
    started_by_nobody,
    starters,
)
from interlock.replay.stops import Stop
from interlock.replay.windows import blind_between
from interlock.timing.edges import Change, after, before, changes, holds_at
from interlock.timing.track import NO, YES, Track
from interlock.verdict import Verdict

__all__ = ["references_return", "restart_of", "restarted_by_itself"]

_START: Final = "after the reset torque stays away until a person starts and sets the references anew"
_START_AFTER: Final = "the end of the demand starts nothing: torque stays away until a person starts"


def restart_of(seen: Observation, stop: Stop, unit: str) -> Iterator[Finding]:
    """When and how the unit made torque again after the stop's reset; nothing if the log does not show it."""
    start, by = _start_of(seen, stop, unit)
    if start is None or by is None or is_start(seen, stop):
        return
    rule, name = seen.bench.required.restart, seen.device_name(unit)
    waited = _waited(by, start)
    verdict, why = _soon(seen, stop, by, start)
    if verdict is not Verdict.PASS:
        verdict, why = held(seen, stop, start, verdict, why)
    if started_by_nobody(seen, stop, start):
        verdict, why = Verdict.FAIL, "though nobody pressed a button that starts it"
    anew = _set_anew(seen, stop, by, start)
    if anew is not Verdict.PASS and verdict is not Verdict.FAIL:
        verdict = anew
        why = (
            "before or without the references being set anew"
            if anew is Verdict.FAIL
            else _unclear(seen, by, start)
        )
    if verdict is Verdict.PASS and stop.by_button and _by_press(seen, stop, start):
        verdict, why = (
            Verdict.INCONCLUSIVE,
            "just as reset was pressed once more; press it once only, well before the start",
        )
    if verdict is Verdict.PASS and not stop.by_button and ended_by_mode(seen, stop):
        return  # it went by the change of the mode, so this tells nothing of the device
    if not stop.by_button:
        why = why.replace(" and to set the references anew", "")
    if by.lawful is None and (verdict is Verdict.FAIL or by.unseen_ns is not None):
        verdict, why = Verdict.INCONCLUSIVE, f"but when it was reset cannot be said: {doubt_of(by)}"
    if verdict is Verdict.PASS and blind_between([start.track], by.release.when.lo, start.when):
        verdict = Verdict.INCONCLUSIVE
        why = f"but frames are missing, and it may have done so before, unseen; {AGAIN}"
    ended = "the reset" if stop.by_button else "its demand had gone"
    sentence = f"The {name} made torque again {_after_reset(waited)} after {ended}, {why}."
    if stop.demand is not None or verdict is not Verdict.PASS:
        requirement = _START if stop.by_button else _START_AFTER
        yield Finding(stop.name, unit, "restart", verdict, requirement, rule.source, sentence, stop.demand)


def restarted_by_itself(seen: Observation, stop: Stop, unit: str) -> Verdict:
    """Fail: torque surely came back sooner than a person could start it, or with references zero; else pass.

    Inconclusive if frames are missing between the reset and the first torque that was seen, or the end of the log.
    """
    track = seen.tracks.get(f"{unit}.torque")
    if track is None or stop.reset is None or is_start(seen, stop):
        return Verdict.PASS
    start, by = _rise_after(seen, stop, track, unit)
    if start is not None and by is not None and by.lawful is not None:
        early, why = _soon(seen, stop, by, start)
        early, _ = held(seen, stop, start, early, why)
        early = Verdict.FAIL if started_by_nobody(seen, stop, start) else early
        anew = _set_anew(seen, stop, by, start)
        if early is Verdict.FAIL or (anew is Verdict.FAIL and not _references_kept(seen, by)):
            return Verdict.FAIL
    until = None if start is None else start.when
    unseen = stop.reset.release.blind or blind_between([track], stop.reset.release.when.lo, until)
    return Verdict.INCONCLUSIVE if unseen else Verdict.PASS


def references_return(seen: Observation, stop: Stop, track: Track) -> tuple[Verdict, str] | None:
    """Whether the references came back after the reset sooner than a person could set them; None: they did not."""
    if stop.reset is None:
        return None
    edge, by = _rise_after(seen, stop, track)
    release = (by or stop.reset).release.when
    until = None if release.hi is None else release.hi + seen.bench.required.restart.no_sooner_than
    if blind_between([track], release.lo, Interval(release.lo, until)):
        return (
            Verdict.INCONCLUSIVE,
            f"at a time after the reset that nobody can tell, as frames are missing, if at all; {AGAIN}",
        )
    if edge is None or by is None:
        return None
    waited = _waited(by, edge)
    verdict, _ = _soon(seen, stop, by, edge)
    if verdict is Verdict.PASS:
        return None
    if verdict is Verdict.FAIL and by.lawful is not None:
        return (
            verdict,
            f"{_after_reset(waited)} after the reset, sooner than a person could have set them anew",
        )
    return (
        Verdict.INCONCLUSIVE,
        f"{_after_reset(waited)} after the reset, perhaps sooner than a person could have; wait longer before you set"
        f" them, or {finer([by.release.track, track])}",
    )


def _waited(by: Attempt, edge: Change) -> Interval:
    """From the reset to the change; from nothing on if the reset may have gone unseen."""
    released = by.release.when
    if released.hi is None:
        return Interval(0, None if edge.when.hi is None else max(0, edge.when.hi - released.lo))
    return delay(released, edge.when)


def _after_reset(waited: Interval) -> str:
    return milliseconds(Interval(max(0, waited.lo), None if waited.hi is None else max(0, waited.hi)))


def _start_of(seen: Observation, stop: Stop, unit: str) -> tuple[Change | None, Attempt | None]:
    """The first torque of the unit after the stop's reset, and the last reset that may have led to it."""
    track = seen.tracks.get(f"{unit}.torque")
    return (None, None) if track is None else _rise_after(seen, stop, track, unit)


def _rise_after(
    seen: Observation, stop: Stop, track: Track, unit: str | None = None
) -> tuple[Change | None, Attempt | None]:
    """The first rise after the stop's reset and before any later demand (on the unit, if one is given), and the last
    reset that may have led to it."""
    if stop.reset is None:
        return None, None
    release = stop.reset.release
    start = next((edge for edge in after(changes(track), release) if edge.to), None)
    if start is None or any(before(start, one) is False for one in _next_onsets(seen, release, unit)):
        return None, None
    late = len(stop.released_after(start))
    led = (one for one in reversed(stop.late[: len(stop.late) - late]) if one.lawful is not False)
    return start, next(led, stop.reset)


def _next_onsets(seen: Observation, release: Change, unit: str | None) -> Iterator[Change]:
    """Of each function (that stops the unit) the first demand that surely came after the reset; so of the modes."""
    required = seen.bench.required
    tracks = {
        id(track): track
        for name, track in seen.asked.items()
        if unit is None or unit in required.units_of(name)
    }
    for track in tracks.values():
        later = (edge for edge in after(changes(track), release) if edge.to and before(release, edge) is True)
        yield from islice(later, 1)
    if required.modes is not None and required.modes.change == "stops":
        yield from islice((edge for edge in seen.mode_changes if before(release, edge) is True), 1)


def _soon(seen: Observation, stop: Stop, by: Attempt, edge: Change) -> tuple[Verdict, str]:
    """Whether a person may have done it since the last reset; one before that may have led to it, if the order of the
    last reset and the change cannot be told."""
    verdict, why = _by_person(_waited(by, edge), seen.bench.required.restart.no_sooner_than)
    if verdict is Verdict.FAIL and by is not stop.reset and before(by.release, edge) is not True:
        return Verdict.INCONCLUSIVE, "or before the button was let go once more; press reset once only"
    return verdict, why


def _by_press(seen: Observation, stop: Stop, start: Change) -> bool:
    """Whether a later press of reset may have started the unit, and no start button was seen pressed since."""
    needed = seen.bench.required.restart.no_sooner_than
    later = [
        one.press for one in stop.released_after(start) if one is not stop.reset and one.press is not None
    ]
    near = [
        one for one in later if before(one, start) is not False and delay(one.when, start.when).lo < needed
    ]
    return bool(near) and not any(pressed_between(track, near[0], start) for _, track in starters(seen))


def _by_person(waited: Interval, needed_ns: int) -> tuple[Verdict, str]:
    if waited.hi is not None and waited.hi < needed_ns:
        return Verdict.FAIL, f"sooner than a person could have started it ({needed_ns / 1e6:g} ms)"
    if waited.lo < needed_ns:
        return (
            Verdict.INCONCLUSIVE,
            f"perhaps sooner than a person could have started it ({needed_ns / 1e6:g} ms); wait longer before you start"
            " it",
        )
    return Verdict.PASS, "time enough for a person to start it and to set the references anew"


def _set_anew(seen: Observation, stop: Stop, by: Attempt, start: Change) -> Verdict:
    """Whether the references were zero at the reset and not set later than the start.

    A stop of some units or of the supply only, one that needs no reset and a change of the mode need not zero them,
    if not said.
    """
    required = seen.bench.required
    stated = required.effects.references_zero
    track = None if stated is None else seen.tracks.get(f"{stated.of}.set")
    by_control = stop.by_button and stop.name != MODE_CHANGE and not by_supply_on(required, stop.name)
    of_all = by_control and stop.function.units is None
    if track is None or not (of_all or "references_zero" in stop.function.effects):
        return Verdict.PASS
    at_reset = holds_at(track, by.release)
    if at_reset == YES:
        return Verdict.FAIL
    anew = next((edge for edge in after(changes(track), by.release) if edge.to), None)
    at_once = anew is not None and _one_act(start, anew, required.restart.no_sooner_than)
    if holds_at(track, start) == NO:
        return Verdict.FAIL if at_reset == NO and not at_once else Verdict.INCONCLUSIVE
    if anew is None or anew.blind or before(start, anew) is True:
        return Verdict.INCONCLUSIVE  # the references are blind at the start, or the log ends too soon
    return Verdict.PASS if at_reset == NO and at_once else Verdict.INCONCLUSIVE


def _unclear(seen: Observation, by: Attempt, start: Change) -> str:
    """That nobody can tell whether the references were set anew, and what would show it; a clause."""
    stated = seen.bench.required.effects.references_zero
    track = None if stated is None else seen.tracks.get(f"{stated.of}.set")
    unclear = "and whether the references were set anew cannot be said"
    if track is not None and blind_between([track], by.release.when.lo, start.when):
        return f"{unclear}: frames that show them are missing; {AGAIN}"
    together = by.release.track.message == start.track.message == (track and track.message)
    finely = finer([track, by.release.track, start.track])
    return f"{unclear}; set them a moment before the start, and {finely}{'' if together else ', or all in one message'}"


def _one_act(start: Change, anew: Change, person_ns: int) -> bool:
    """Whether torque, once there, stayed until the references were set, sooner than a person acts twice."""
    ahead = delay(start.when, anew.when)
    fall = next((edge for edge in after(changes(start.track), start) if not edge.to), None)
    lasted = fall is None or before(fall, anew) is not True
    return lasted and ahead.hi is not None and ahead.hi <= person_ns


def _references_kept(seen: Observation, by: Attempt) -> bool:
    stated = seen.bench.required.effects.references_zero
    track = None if stated is None else seen.tracks.get(f"{stated.of}.set")
    return track is not None and holds_at(track, by.release) == YES
