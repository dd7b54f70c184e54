"""What must stay off after a stop, and what brings it back: the reset, by the release of its button."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from interlock.bench import kinds_of
from interlock.bench.required_models import Required
from interlock.interval import delay
from interlock.replay.advice import AGAIN, finer
from interlock.replay.attempts import Attempt, doubt_of
from interlock.replay.finding import Finding
from interlock.replay.lone import LOOK, lone, without
from interlock.replay.observation import Observation
from interlock.replay.resets import by_supply_on
from interlock.replay.restart import restart_of, restarted_by_itself
from interlock.replay.stops import Stop, lines_of
from interlock.replay.windows import blind_between
from interlock.timing.edges import Change, after, before, changes
from interlock.timing.settle import Settled, settled
from interlock.timing.track import YES, Track
from interlock.verdict import Verdict

__all__ = ["latch_of", "shortest_press_ns"]

_STAYS_OFF: Final = (
    "torque and torque-enable line stay off until reset was pressed and released, the demand being gone"
)
_STAYS_UNTIL: Final = "torque and torque-enable line stay off as long as the demand is present"
_AFTER: Final = {
    Verdict.PASS: "The {name} stayed off until the lawful reset.",
    Verdict.FAIL: "The {name} made torque again after the reset, with no start by a person.",
    Verdict.INCONCLUSIVE: f"The {{name}} stayed off until the reset, but frames are missing right after it; {AGAIN}.",
}
_AFTER_DEMAND: Final = {
    Verdict.PASS: "The {name} stayed off as long as the demand was present.",
    Verdict.FAIL: "The {name} made torque again as soon as the demand had gone, with no start by a person.",
    Verdict.INCONCLUSIVE: (
        f"The {{name}} stayed off while the demand was present, but frames are missing right after it; {AGAIN}."
    ),
}
_LINE_NS: Final = 200_000_000
"""No torque-enable line takes longer to come on (common practice, no source)."""
_RELEASE: Final = "the release of the reset button acts, not its press"


def shortest_press_ns(required: Required) -> int:
    """How long reset must be pressed, so that a line which its press switches on would come on before its release.

    The time for torque off stands for how fast the line acts, but where a ramp makes that longer than a person needs.
    """
    return min(required.effects.torque_off.within, max(_LINE_NS, required.restart.no_sooner_than))


def latch_of(seen: Observation, stop: Stop, every: Sequence[Stop] = ()) -> Iterator[Finding]:
    """For each unit: does it stay off, does the reset act by its release only, does torque wait for a start?

    `every`: all stops of the log; what another one kept off at the reset says nothing of this one's.
    """
    for unit in stop.limits:
        yield from _stays_off(seen, stop, unit)
        if stop.by_button and not by_supply_on(seen.bench.required, stop.name):
            yield from _reset_on_release(seen, stop, unit, every)
        yield from restart_of(seen, stop, unit)


def _stays_off(seen: Observation, stop: Stop, unit: str) -> Iterator[Finding]:
    words = {"torque": "torque", "enabled": "the torque-enable line"}
    ports = {f"{unit}.{line}": words[line] for line in lines_of(seen.bench.required, stop.name)}
    got = {
        what: settled(seen.tracks[port], stop.window) for port, what in ports.items() if port in seen.tracks
    }
    told = _came_back(seen, stop, unit, got)
    if told is None and stop.demand is not None and not any(one.held for one in got.values()):
        return
    told = told or _never_seen_off(seen, stop, unit, got) or _not_told(seen, stop, unit, got)
    if told is None and stop.reset is None and _at_rest(seen, stop):
        return  # off to the end, with the demand present: as it should be, but no test of its end
    verdict, sentence = told or _until_reset(seen, stop, unit)
    if stop.demand is not None or verdict is not Verdict.PASS:
        requirement = _STAYS_OFF if stop.by_button else _STAYS_UNTIL
        source = seen.bench.required.reset.source if stop.by_button else stop.function.source
        yield Finding(stop.name, unit, "stays_off", verdict, requirement, source, sentence, stop.demand)


_Told = tuple[Verdict, str]


def _came_back(seen: Observation, stop: Stop, unit: str, got: Mapping[str, Settled]) -> _Told | None:
    back = {what: _returned(stop, unit, what, one) for what, one in got.items()}
    if not any(back.values()):
        return None
    what, first = min(((what, times[0]) for what, times in back.items() if times), key=lambda one: one[1])
    until = "before the lawful reset" if stop.by_button else "while the demand was present"
    name, at = seen.device_name(unit), f"At {first / 1e9:.3f} s"
    if _spike(seen, stop, unit, got):
        alone = f"one sample alone shows torque of the {name} {until}, its neighbours do not"
        return Verdict.INCONCLUSIVE, f"{at} {alone}; {LOOK}."
    return Verdict.FAIL, f"{at} {what} of the {name} had come back {until}."


def _never_seen_off(seen: Observation, stop: Stop, unit: str, got: Mapping[str, Settled]) -> _Told | None:
    for what, one in got.items():
        if _never_off(seen, stop, unit, one):
            name = seen.device_name(unit)
            return Verdict.FAIL, f"All through the stop {what} of the {name} was never seen off."
    return None


def _not_told(seen: Observation, stop: Stop, unit: str, got: Mapping[str, Settled]) -> _Told | None:
    """What leaves open whether it stayed off."""
    name, sentence = seen.device_name(unit), None
    if stop.function.stop_category == 0 and "torque" in got and len(got["torque"].again) > 1:
        sentence = (
            f"At {got['torque'].again[0] / 1e9:.3f} s torque of the {name} was back after it had gone, and then went"
            f" for good in the time allowed: a stop that let go for a moment, or a shaft that rings; {LOOK}."
        )
    elif any(len(one.returned) > 1 and not _reverses(what, one) for what, one in got.items()):
        sentence = (
            f"The {name} came on so near to the demand that nobody can tell whether before it or after it;"
            " repeat the demand while it has been running for a while."
        )
    elif any(one.blind_before or one.blind_after or one.last_stamp_ns is None for one in got.values()):
        sentence = (
            f"Whether the {name} stayed off cannot be said: frames are missing or not to be trusted; {AGAIN}."
        )
    elif any(one.at.hi is None for one in got.values()):
        sentence = (
            f"The {name} was not seen to be off before the stop ended; wait with the reset until it is."
        )
    return None if sentence is None else (Verdict.INCONCLUSIVE, sentence)


def _until_reset(seen: Observation, stop: Stop, unit: str) -> _Told:
    """It stayed off: was that ended by a lawful reset, and by nothing else?"""
    name = seen.device_name(unit)
    if stop.reset is None:
        sentence = f"The {name} stayed off to the end of the log, which ends before a reset; record on until after it."
        return Verdict.INCONCLUSIVE, sentence
    if stop.reset.lawful is None:
        why = f"but {doubt_of(stop.reset)}" if stop.by_button else f"when the demand may have gone; {AGAIN}"
        return Verdict.INCONCLUSIVE, f"The {name} stayed off until {_at(stop.reset.release)}, {why}."
    verdict = restarted_by_itself(seen, stop, unit)
    return verdict, (_AFTER if stop.by_button else _AFTER_DEMAND)[verdict].format(name=name)


def _at_rest(seen: Observation, stop: Stop) -> bool:
    """Whether the log ends with the demand present, where that is no use of the device: a button that nobody holds."""
    device = stop.period.device
    let_go = kinds_of(seen.bench)[seen.bench.devices[device].kind].momentary
    return stop.period.gone is None and (let_go or not stop.by_button)


def _returned(stop: Stop, unit: str, what: str, got: Settled) -> tuple[int, ...]:
    """Stamps at which it was back: any after the limit for torque off, or two that surely came after the demand.

    Torque within the limit is no such return: it passes through zero where a unit brakes, and rings down in a shaft.
    """
    limit = (stop.onset.hi or 0) + stop.limits[unit]
    late = tuple(stamp for stamp in got.returned if stamp > limit)
    return late or (got.again if what != "torque" and len(got.again) > 1 else ())


def _reverses(what: str, got: Settled) -> bool:
    """Whether it may have been torque that passed through zero: it surely was there before the demand."""
    return what == "torque" and got.before == YES


def _spike(seen: Observation, stop: Stop, unit: str, got: Mapping[str, Settled]) -> bool:
    """Whether nothing but one sample of a measured torque shows that the unit came back, or was not off at all."""
    at = lone(seen, seen.tracks[f"{unit}.torque"], stop.window) if "torque" in got else None
    if at is None:
        return False
    spared = settled(without(seen.tracks[f"{unit}.torque"], at), stop.window)
    each = {**got, "torque": spared}.items()
    return not any(
        _returned(stop, unit, what, one) or _never_off(seen, stop, unit, one) for what, one in each
    )


def _never_off(seen: Observation, stop: Stop, unit: str, got: Settled) -> bool:
    """Whether it surely held to the end of the window, for longer than torque off may take."""
    limit = (stop.onset.hi or 0) + stop.limits[unit]
    return got.held and got.at.hi is None and got.at.lo > limit and not seen.silent(stop.onset.lo, got.at.lo)


def _reset_on_release(seen: Observation, stop: Stop, unit: str, every: Sequence[Stop]) -> Iterator[Finding]:
    track = seen.tracks.get(f"{unit}.enabled", seen.tracks.get(f"{unit}.torque"))
    rise = None if track is None else _first_rise(track, stop)
    if rise is None or not stop.late:
        return
    source, name = seen.bench.required.reset.source, seen.device_name(unit)
    verdict, why = _by_release(stop, rise, shortest_press_ns(seen.bench.required))
    if verdict is Verdict.PASS and blind_between(
        [track, stop.late[0].release.track], stop.onset.lo, rise.when
    ):
        verdict, why = (
            Verdict.INCONCLUSIVE,
            f"but frames are missing, and it may have been enabled before, unseen; {AGAIN}",
        )
    if verdict is Verdict.PASS and _kept_off(stop, unit, rise, every):
        return
    if verdict is not None and (stop.demand is not None or verdict is not Verdict.PASS):
        sentence = f"The {name} was enabled again at about {_at(rise)}: {why}."
        yield Finding(stop.name, unit, "reset_on_release", verdict, _RELEASE, source, sentence, stop.demand)


def _kept_off(stop: Stop, unit: str, rise: Change, every: Sequence[Stop]) -> bool:
    """Whether another stop may have kept the unit off at the reset of this one, or at the one before the rise."""
    last = next((one for one in reversed(stop.released_before(rise)) if one.lawful is True), None)
    uses = [one for one in (stop.reset, last) if one is not None and one.lawful is True]
    others = [other for other in every if unit in other.limits and not _reset_alike(other, stop)]
    return any(_in_force(other, use) for other in others for use in uses)


def _reset_alike(other: Stop, stop: Stop) -> bool:
    """Whether the same uses of the same button end both, so that none of them outlasts the reset of the other."""
    same = other.shown[-1] is stop.shown[-1] and other.limits.keys() == stop.limits.keys()
    return same and other.by_button and stop.by_button


def _in_force(other: Stop, use: Attempt) -> bool:
    """Whether the stop may have lasted while the button was used, and was not ended by that."""
    onset = other.period.onset
    begun = onset is None or before(use.release, onset) is not True
    if other.reset is None or use.press is None:
        return begun
    same = other.reset.release is use.release
    return begun and not same and before(other.reset.release, use.press) is not True


def _by_release(stop: Stop, rise: Change, shortest_ns: int) -> tuple[Verdict | None, str]:
    """How the first enabling after a stop lies to the resets; None: that cannot be told from this stop."""
    done = stop.released_before(rise)
    pressing = _pressing(stop, rise)
    lawful = next((one for one in reversed(done) if one.lawful is True), None)
    if lawful is not None and lawful.press is not None:
        if pressing is not None:
            return (
                Verdict.INCONCLUSIVE,
                "after one reset, but while or just when the button was pressed once more; press it once only",
            )
        if delay(lawful.press.when, lawful.release.when).lo < shortest_ns:
            return None, "the button was pressed too shortly to tell its press from its release"
        return Verdict.PASS, "after the reset button was let go"
    doubtful = next((one for one in reversed(done) if one.lawful is None), None)
    if doubtful is None and pressing is not None and pressing.unseen_ns is not None:
        doubtful = pressing
    if doubtful is not None:
        return Verdict.INCONCLUSIVE, f"but {doubt_of(doubtful)}"
    if done and pressing is None:
        if any(
            one.lawful is not False and before(rise, one.release) is not True
            for one in stop.late[len(done) :]
        ):
            return (
                Verdict.INCONCLUSIVE,
                "but whether that was before or after a reset cannot be said;"
                f" {finer([rise.track, stop.late[len(done)].release.track])}",
            )
        return Verdict.FAIL, "by a reset pressed or released while a demand was present"
    if pressing is None:
        return None, "nobody had pressed reset at all"
    if before(rise, pressing.release) is True:
        return Verdict.FAIL, "while the reset button was still pressed"
    if rise.track.message != pressing.release.track.message:
        return (
            Verdict.INCONCLUSIVE,
            "so near to the release of the reset button that nobody can tell which came first;"
            f" {finer([pressing.release.track, rise.track])}, or both in one message",
        )
    how = finer([rise.track])
    return Verdict.INCONCLUSIVE, f"at the same sample at which the reset button was let go; {how}"


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
