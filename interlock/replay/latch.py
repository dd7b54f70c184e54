"""What must stay off after a stop, and what brings it back: the reset, by the release of its button."""

from collections.abc import Iterator
from typing import Final

from interlock.interval import delay
from interlock.replay.attempts import Attempt
from interlock.replay.finding import Finding
from interlock.replay.observation import Observation
from interlock.replay.restart import restart_of, restarted_by_itself
from interlock.replay.stops import Stop
from interlock.replay.windows import blind_between
from interlock.timing.edges import Change, after, before, changes
from interlock.timing.settle import Settled, settled
from interlock.timing.track import Track
from interlock.verdict import Verdict

__all__ = ["latch_of"]

_STAYS_OFF: Final = (
    "torque and torque-enable line stay off until reset was pressed and released, the demand being gone"
)
_AFTER: Final = {
    Verdict.PASS: "The {name} stayed off until the lawful reset.",
    Verdict.FAIL: "The {name} made torque again after the reset, with no start by a person.",
    Verdict.INCONCLUSIVE: "The {name} stayed off until the reset, but frames are missing right after it.",
}
_RELEASE: Final = "the release of the reset button acts, not its press"


def latch_of(seen: Observation, stop: Stop) -> Iterator[Finding]:
    """For each unit: does it stay off, does the reset act by its release only, does torque wait for a start?"""
    for unit in seen.bench.required.effects.torque_off.of:
        yield from _stays_off(seen, stop, unit)
        yield from _reset_on_release(seen, stop, unit)
        yield from restart_of(seen, stop, unit)


def _stays_off(seen: Observation, stop: Stop, unit: str) -> Iterator[Finding]:
    source, name = seen.bench.required.reset.source, seen.device_name(unit)
    ports = {f"{unit}.torque": "torque", f"{unit}.enabled": "the torque-enable line"}
    got = {
        what: settled(seen.tracks[port], stop.window) for port, what in ports.items() if port in seen.tracks
    }
    back = {what: _returned(seen, stop, one) for what, one in got.items()}
    if any(times for times in back.values()):
        what, first = min(((what, times[0]) for what, times in back.items() if times), key=lambda one: one[1])
        verdict = Verdict.FAIL
        sentence = f"At {first / 1e9:.3f} s {what} of the {name} had come back before the lawful reset."
    elif stop.demand is not None and not any(one.held for one in got.values()):
        return
    elif any(_never_off(seen, stop, one) for one in got.values()):
        what = next(what for what, one in got.items() if _never_off(seen, stop, one))
        verdict, sentence = Verdict.FAIL, f"All through the stop {what} of the {name} was never seen off."
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
    else:
        verdict = restarted_by_itself(seen, stop, unit)
        sentence = _AFTER[verdict].format(name=name)
    if stop.demand is not None or verdict is not Verdict.PASS:
        yield Finding(stop.name, unit, "stays_off", verdict, _STAYS_OFF, source, sentence, stop.demand)


def _returned(seen: Observation, stop: Stop, got: Settled) -> tuple[int, ...]:
    """Stamps at which it was back: any after the limit for torque off, or two in a row before it."""
    limit = (stop.onset.hi or 0) + seen.bench.required.effects.torque_off.within
    late = tuple(stamp for stamp in got.returned if stamp > limit)
    return late or (got.returned if len(got.returned) > 1 else ())


def _never_off(seen: Observation, stop: Stop, got: Settled) -> bool:
    """Whether it surely held to the end of the window, for longer than torque off may take."""
    limit = (stop.onset.hi or 0) + seen.bench.required.effects.torque_off.within
    return got.held and got.at.hi is None and got.at.lo > limit and not seen.silent(stop.onset.lo, got.at.lo)


def _reset_on_release(seen: Observation, stop: Stop, unit: str) -> Iterator[Finding]:
    track = seen.tracks.get(f"{unit}.enabled", seen.tracks.get(f"{unit}.torque"))
    rise = None if track is None else _first_rise(track, stop)
    if rise is None or not stop.late:
        return
    source, name = seen.bench.required.reset.source, seen.device_name(unit)
    verdict, why = _by_release(stop, rise, seen.bench.required.effects.torque_off.within)
    if verdict is Verdict.PASS and blind_between(
        [track, stop.late[0].release.track], stop.onset.lo, rise.when
    ):
        verdict, why = (
            Verdict.INCONCLUSIVE,
            "but frames are missing, and it may have been enabled before, unseen",
        )
    if verdict is not None and (stop.demand is not None or verdict is not Verdict.PASS):
        sentence = f"The {name} was enabled again at about {_at(rise)}: {why}."
        yield Finding(stop.name, unit, "reset_on_release", verdict, _RELEASE, source, sentence, stop.demand)


def _by_release(stop: Stop, rise: Change, shortest_ns: int) -> tuple[Verdict | None, str]:
    """How the first enabling after a stop lies to the resets; None: that cannot be told from this stop."""
    done = stop.released_before(rise)
    pressing = _pressing(stop, rise)
    lawful = next((one for one in reversed(done) if one.lawful is True), None)
    if lawful is not None and lawful.press is not None:
        if pressing is not None:
            return (
                Verdict.INCONCLUSIVE,
                "after one reset, but while or just when the button was pressed once more",
            )
        if delay(lawful.press.when, lawful.release.when).lo < shortest_ns:
            return None, "the button was pressed too shortly to tell its press from its release"
        return Verdict.PASS, "after the reset button was let go"
    if any(one.lawful is None for one in done):
        why = "but the reset had been pressed while the demand may still have been present"
        return Verdict.INCONCLUSIVE, why
    if done and pressing is None:
        return Verdict.FAIL, "by a reset pressed or released while a demand was present"
    if pressing is None:
        return None, "nobody had pressed reset at all"
    if before(rise, pressing.release) is True:
        return Verdict.FAIL, "while the reset button was still pressed"
    if rise.track.message != pressing.release.track.message:
        return (
            Verdict.INCONCLUSIVE,
            "so near to the release of the reset button that nobody can tell which came first",
        )
    return Verdict.INCONCLUSIVE, "at the same sample at which the reset button was let go"


def _pressing(stop: Stop, rise: Change) -> Attempt | None:
    """The attempt whose press surely came before the rise and whose release surely did not."""
    return next((one for one in stop.late[len(stop.released_before(rise)) :] if _begun(one, rise)), None)


def _begun(attempt: Attempt, rise: Change) -> bool:
    """Whether the button was pressed before the rise; one that may have gone unseen, only if it may end there."""
    if attempt.press is not None:
        return before(attempt.press, rise) is True
    return not attempt.release.blind or before(rise, attempt.release) is not True


def _first_rise(track: Track, stop: Stop) -> Change | None:
    """The first rise that surely came after the onset."""
    onset = stop.period.onset
    edges = changes(track) if onset is None else after(changes(track), onset)
    return next((edge for edge in edges if edge.to and (onset is None or before(onset, edge) is True)), None)


def _at(edge: Change) -> str:
    return f"{edge.track.stamps_ns[edge.first_new] / 1e9:.3f} s"
