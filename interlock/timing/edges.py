"""When a condition changed: between the last sample that excludes the change and the first that shows it."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from interlock.interval import Interval
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Track

__all__ = ["Change", "before", "changes", "first_possible", "hidden", "holds_at"]


@dataclass(frozen=True, slots=True)
class Change:
    """The condition of a track became `to` after sample `last_old` and not later than sample `first_new`."""

    track: Track
    last_old: int
    first_new: int
    to: bool
    when: Interval
    blind: bool  # evidence is missing between the two samples


def changes(track: Track) -> list[Change]:
    """Every change between neighbouring known samples, in order; unknown samples widen its interval."""
    return list(_changes(track))


def _changes(track: Track) -> Iterator[Change]:
    known = np.flatnonzero(track.states >= NO)
    states = track.states[known]
    for index in np.flatnonzero(states[1:] != states[:-1]):
        old, new = int(known[index]), int(known[index + 1])
        blind = bool((track.states[old:new] == BLIND).any())
        yield Change(track, old, new, bool(states[index + 1] == YES), track.interval(old, new), blind)


def hidden(track: Track) -> list[Change]:
    """For each span without evidence: a change that may have happened within it, from true to false."""
    found = []
    known = np.flatnonzero(track.states >= NO)
    blind = np.flatnonzero(track.states == BLIND)
    places = np.searchsorted(known, blind)
    for place in dict.fromkeys(places.tolist()):
        old = int(known[place - 1]) if place else int(blind[0])
        new = int(known[place]) if place < len(known) else int(blind[-1])
        hi = track.interval(None, new).hi if place < len(known) else None
        lo = track.interval(old, None).lo if place else -(2**62)
        found.append(Change(track, old, new, False, Interval(lo, hi), True))
    return found


def before(first: Change, second: Change) -> bool | None:
    """Whether `first` happened before `second`; None if the samples leave it open.

    Contents of one message are sampled in the order of its frames, whatever the delay of their stamps.
    """
    if first.track.message == second.track.message:
        if _stamp(first, first.first_new) <= _stamp(second, second.last_old):
            return True
        return False if _stamp(second, second.first_new) <= _stamp(first, first.last_old) else None
    if first.when.hi is not None and first.when.hi <= second.when.lo:
        return True
    return False if second.when.hi is not None and second.when.hi <= first.when.lo else None


def _stamp(change: Change, index: int) -> int:
    return int(change.track.stamps_ns[index])


def first_possible(track: Track, since: Change) -> Interval | None:
    """When the condition may have become true after `since`, as early as the evidence leaves open.

    A condition that held already at `since`, and goes on to hold, has not become true.
    """
    if track.message == since.track.message:
        start = int(np.searchsorted(track.stamps_ns, _stamp(since, since.first_new), side="left"))
    else:
        start = int(np.searchsorted(track.stamps_ns, since.when.lo + track.clock.least_ns, side="right"))
    states = track.states
    while 0 < start < len(states) and states[start - 1] == YES == states[start]:
        start += 1
    open_ = np.flatnonzero(states[start:] != NO)
    if not len(open_):
        return None
    at = start + int(open_[0])
    return track.interval(at - 1 if at else None, at)


def holds_at(track: Track, change: Change) -> int:
    """What the track shows at the instant of a change of the same or another message: YES, NO or UNKNOWN.

    YES or NO only if every sample that may lie next to the instant agrees.
    """
    lo, hi = change.when.lo, change.when.hi
    start = np.searchsorted(track.stamps_ns, lo + track.clock.least_ns, side="right") - 1
    end = (
        len(track.stamps_ns) if hi is None else np.searchsorted(track.stamps_ns, hi + track.clock.most_ns) + 1
    )
    seen = set(track.states[max(0, int(start)) : int(end)].tolist())
    return seen.pop() if len(seen) == 1 else UNKNOWN
