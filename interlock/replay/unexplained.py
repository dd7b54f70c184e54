"""What no demand, reset or start in the log explains: the bench or the log holds something that nobody has told of."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Final

from interlock.interval import delay
from interlock.replay.attempts import Attempt
from interlock.replay.finding import Finding
from interlock.replay.locked import is_locked
from interlock.replay.modes import MODE_CHANGE, limits_of
from interlock.replay.observation import Observation
from interlock.replay.resets import Resets
from interlock.replay.stops import Stop
from interlock.timing.edges import Change, after, before, changes, holds_at
from interlock.timing.track import NO, YES, Track
from interlock.verdict import Verdict

__all__ = ["Story", "unexplained_of"]

_SOURCE: Final = "the bench description, section required"
_FALLS: Final = "a torque-enable line falls only when a demand is seen"
_RISES: Final = "a torque-enable line comes on only after reset was pressed and released"
_ONLY_ENABLED: Final = "a unit makes torque only while its torque-enable line is on"
_LOST: Final = "running units lose their torque only when a demand is seen"

_MOST: Final = 200
"""Of a line or unit that changes more often than this only so many changes are looked at."""


@dataclass(frozen=True)
class Story:
    """What the log tells of the bench's use."""

    resets: Resets
    stops: list[Stop]


def unexplained_of(seen: Observation, story: Story) -> Iterator[Finding]:
    """A finding for each change of an enable line or of torque that the log does not explain."""
    for unit in seen.bench.required.effects.torque_off.of:
        enabled, torque = seen.tracks.get(f"{unit}.enabled"), seen.tracks.get(f"{unit}.torque")
        if enabled is not None:
            yield from _falls(seen, unit, enabled)
            yield from _rises(seen, story, unit, enabled)
        if enabled is not None and torque is not None:
            yield from _not_enabled(seen, story, unit, enabled, torque)
    yield from _lost(seen)


def _told(unit: str, verdict: Verdict, requirement: str, sentence: str) -> Finding:
    return Finding("bench", unit, "explained", verdict, requirement, _SOURCE, sentence)


def _falls(seen: Observation, unit: str, enabled: Track) -> Iterator[Finding]:
    for edge in islice(changes(enabled), _MOST):
        if not edge.to and not _demanded(seen, edge):
            sentence = (
                f"The torque-enable line of the {seen.device_name(unit)} fell at {_at(edge)}"
                " with no demand in the log; find out what asked for it, and log that too."
            )
            yield _told(unit, Verdict.INCONCLUSIVE, _FALLS, sentence)


def _demanded(seen: Observation, edge: Change) -> bool:
    """Whether a demand may have been present at the change, or was, not longer ago than torque off may take."""
    if any(holds_at(demand, edge) != NO for demand in seen.demands.values()):
        return True
    limit, at_ns = _longest(seen), edge.when.lo
    last = [_last(changes(demand), at_ns) for demand in seen.demands.values()]
    last.append(_last([replace(one, to=True) for one in seen.mode_changes], at_ns))
    return any(one is not None and (one.when.hi is None or at_ns <= one.when.hi + limit) for one in last)


def _longest(seen: Observation) -> int:
    """The longest time, ns, in which any demand must have taken any unit's torque away."""
    names = [*seen.bench.required.functions, *([MODE_CHANGE] if seen.bench.required.modes else [])]
    return max(max(limits_of(seen.bench, name).values()) for name in names)


def _last(edges: Sequence[Change], at_ns: int) -> Change | None:
    """The last demand that may have begun at or before the instant."""
    begun = edges[: bisect_right(edges, at_ns, key=lambda one: one.when.lo)]
    return next((one for one in reversed(begun) if one.to), None)


def _rises(seen: Observation, story: Story, unit: str, enabled: Track) -> Iterator[Finding]:
    """Those outside of every stop: within one, `stays_off` judges them."""
    fall: Change | None = None
    first_ns = _longest(seen)  # sooner, the reset may lie before the log
    for edge in islice(changes(enabled), _MOST):
        if not edge.to:
            fall = edge
        elif (
            edge.when.lo > first_ns
            and not _stopped(story, unit, edge)
            and not _reset(seen, story, unit, fall, edge)
        ):
            sentence = (
                f"The torque-enable line of the {seen.device_name(unit)} came on at {_at(edge)}"
                " with no reset in the log before it; find out what brought it on, and log that too."
            )
            yield _told(unit, Verdict.INCONCLUSIVE, _RISES, sentence)


def _stopped(story: Story, unit: str, edge: Change) -> bool:
    """Whether the change may lie in a stop of the unit that no reset had ended yet."""
    return any(
        unit in stop.limits
        and (stop.period.onset is None or before(stop.period.onset, edge) is not False)
        and (stop.reset is None or before(stop.reset.release, edge) is not True)
        for stop in story.stops
    )


def _reset(seen: Observation, story: Story, unit: str, fall: Change | None, rise: Change) -> bool:
    """Whether a reset that may be lawful may have ended between the line's fall and its rise, or the mode changed
    where that need not stop the bench."""
    if any(_between(used, fall, rise) for used in story.resets.on(unit)):
        return True
    modes = seen.bench.required.modes
    return modes is not None and any(
        before(one, rise) is not False and (fall is None or before(one, fall) is not True)
        for one in (seen.mode_changes if modes.change == "starts_nothing" else ())
    )


def _between(used: list[Attempt], fall: Change | None, rise: Change) -> bool:
    since = used if fall is None else after([one.release for one in used], fall)
    first = len(used) - len(since)
    return any(
        one.lawful is not False and before(one.release, rise) is not False
        for one in islice(used, first, first + _MOST)
    )


def _not_enabled(
    seen: Observation, story: Story, unit: str, enabled: Track, torque: Track
) -> Iterator[Finding]:
    """Outside of every stop: within one, `torque_off` and `stays_off` judge it."""
    for edge in islice(changes(torque), _MOST):
        if edge.to and holds_at(enabled, edge) == NO and not _stopped(story, unit, edge):
            sentence = f"The {seen.device_name(unit)} made torque at {_at(edge)} while its torque-enable line was off."
            yield _told(unit, Verdict.FAIL, _ONLY_ENABLED, sentence)


def _lost(seen: Observation) -> Iterator[Finding]:
    """All units without torque at once, though enabled and with references set: the log may hide a demand."""
    units = seen.bench.required.effects.torque_off.of
    tracks = [seen.tracks.get(f"{unit}.torque") for unit in units]
    if any(track is None for track in tracks) or _stopped_first(seen):
        return
    limit = seen.bench.required.effects.torque_off.within
    first, *others = [list(_lasting_falls(track, limit)) for track in tracks if track is not None]
    for edge in first[:_MOST]:
        together = all(any(_close(edge, one, limit) for one in falls) for falls in others)
        if together and _running(seen, edge) and not _demanded(seen, edge):
            sentence = (
                f"The units lost their torque at {_at(edge)} {_meanwhile(seen)}no demand in the log: either they were"
                " stopped otherwise, or the log does not show the demand; find out which, and repeat the run."
            )
            yield _told(units[0], Verdict.INCONCLUSIVE, _LOST, sentence)


def _meanwhile(seen: Observation) -> str:
    """What the log shows beside the loss of torque, or what would be needed to judge it."""
    effects = seen.bench.required.effects
    units, stated = effects.torque_off.of, effects.references_zero
    lines = [unit for unit in units if f"{unit}.enabled" in seen.tracks]
    if stated is not None and f"{stated.of}.set" in seen.tracks:
        return f"with references set{', enable lines on' if lines else ''} and "
    missing = " and ".join(f"'{unit}.enabled'" for unit in units if unit not in lines)
    return f"(whether the control stopped them would show with {missing} under shows, states) with "


def _stopped_first(seen: Observation) -> bool:
    """Whether a guard is locked until the units were stopped by their control, and no references show that."""
    stated = seen.bench.required.effects.references_zero
    shown = stated is not None and f"{stated.of}.set" in seen.tracks
    functions = seen.bench.required.functions.values()
    return not shown and any(is_locked(seen.bench, one.demand) for one in functions)


def _lasting_falls(track: Track, limit_ns: int) -> Iterator[Change]:
    edges = changes(track)
    for edge, following in zip(edges, [*edges[1:], None], strict=True) if edges else ():
        lasted = following is None or edge.when.hi is None or following.when.lo - edge.when.hi > limit_ns
        if not edge.to and lasted:
            yield edge


def _close(one: Change, other: Change, limit_ns: int) -> bool:
    apart = delay(one.when, other.when)
    return apart.lo <= limit_ns and (apart.hi is None or apart.hi >= -limit_ns)


def _running(seen: Observation, edge: Change) -> bool:
    """Whether references were set and every enable line on, at the change and as long after as torque off may take."""
    effects = seen.bench.required.effects
    stated, limit = effects.references_zero, effects.torque_off.within
    references = None if stated is None else seen.tracks.get(f"{stated.of}.set")
    if references is not None and holds_at(references, edge) != YES:
        return False
    enabled = [seen.tracks.get(f"{unit}.enabled") for unit in effects.torque_off.of]
    if references is None and all(track is not None for track in enabled):
        return (
            False  # every line stays on: the control may have stopped the units, which is nothing to explain
        )
    return all(
        track is None or (holds_at(track, edge) == YES and not _falls_soon(track, edge, limit))
        for track in enabled
    )


def _falls_soon(track: Track, edge: Change, limit_ns: int) -> bool:
    return any(_close(edge, one, limit_ns) for one in _downs(changes(track)))


def _downs(edges: Iterable[Change]) -> Iterator[Change]:
    return (edge for edge in edges if not edge.to)


def _at(edge: Change) -> str:
    return f"{edge.track.stamps_ns[edge.first_new] / 1e9:.3f} s"
