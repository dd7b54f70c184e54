"""A guard that is locked until nothing turns: its demand comes when all is still, and never sooner."""

from collections.abc import Iterator
from typing import Final

from interlock.bench import Bench, kinds_of
from interlock.replay.advice import AGAIN, finer
from interlock.replay.finding import Finding
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.timing.edges import holds_at
from interlock.timing.track import NO, YES, Track
from interlock.verdict import Verdict

__all__ = ["LOCKED", "is_locked", "locked_of", "requirement_of"]

LOCKED: Final = "locked_until_still"


def is_locked(bench: Bench, device: str) -> bool:
    """Whether the device, by its kind, demands nothing before its lock is free."""
    return kinds_of(bench)[bench.devices[device].kind].locked_at_first


def requirement_of(seen: Observation, function: str) -> str:
    """What is asked of the guard, in words."""
    required = seen.bench.required
    guard = seen.device_name(required.functions[function].demand)
    stated = required.effects.standstill if "standstill" in required.functions[function].effects else None
    still = "" if stated is None else f" and the {seen.device_name(stated.of)} stands (below {stated.below})"
    return f"the {guard} stays locked until no unit makes torque{still}"


def locked_of(seen: Observation, stop: Stop) -> Iterator[Finding]:
    """Whether torque and motion had gone when the guard was unlocked; nothing if the log does not show them."""
    onset = stop.period.onset
    if onset is None or stop.by_mode or not is_locked(seen.bench, stop.period.device):
        return
    tracks = _to_be_still(seen, stop)
    if any(track is None for _, track in tracks):
        return
    shown = {what: holds_at(track, onset) for what, track in tracks if track is not None}
    moving = [what for what, state in shown.items() if state == YES]
    guard = seen.device_name(stop.period.device)
    if moving:
        verdict, sentence = Verdict.FAIL, f"The {guard} was unlocked while {' and '.join(moving)}."
    elif onset.blind or set(shown.values()) != {NO}:
        verdict = Verdict.INCONCLUSIVE
        how = AGAIN if onset.blind else finer([onset.track, *(track for _, track in tracks)])
        sentence = f"Whether all was still when the {guard} was unlocked cannot be said; {how}."
    else:
        verdict, sentence = Verdict.PASS, f"All was still when the {guard} was unlocked."
    requirement, source = requirement_of(seen, stop.name), stop.function.source
    yield Finding(stop.name, stop.period.device, LOCKED, verdict, requirement, source, sentence, stop.demand)


def _to_be_still(seen: Observation, stop: Stop) -> list[tuple[str, Track | None]]:
    found = [
        (f"the {seen.device_name(unit)} made torque", seen.tracks.get(f"{unit}.torque"))
        for unit in stop.limits
    ]
    stated = seen.bench.required.effects.standstill
    if stated is not None and "standstill" in stop.function.effects:
        turning = seen.beyond(f"{stated.of}.speed", ">=", stated.below.number, magnitude=True)
        found.append((f"the {seen.device_name(stated.of)} turned", turning))
    return found
