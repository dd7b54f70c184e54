"""When a condition changed: between the last sample that excludes the change and the first that shows it."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from interlock.interval import Interval
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, Track

__all__ = ["Change", "after", "before", "changes", "first_possible", "hidden", "holds_at"]


@dataclass(frozen=True, slots=True)
class Change:
    """The condition of a track became `to` after sample `last_old` and not later than sample `first_new`."""

    track: Track
    last_old: int
    first_new: int
    to: bool
    when: Interval
    blind: bool  # evidence is missing between the two samples


def changes(track: Track) -> tuple[Change, ...]:
    """Every change between neighbouring known samples, in order; unknown samples widen its interval."""
    if "changes" not in track.memo:
        track.memo["changes"] = tuple(_changes(track))
    found: tuple[Change, ...] = track.memo["changes"]
    return found


def _changes(track: Track) -> Iterator[Change]:
    known = np.flatnonzero(track.states >= NO)
    states = track.states[known]
    at = np.flatnonzero(states[1:] != states[:-1])
    blind = np.cumsum(track.states == BLIND, dtype=np.int64)
    old, new = known[at], known[at + 1]
    rows = zip(
        old.tolist(),
        new.tolist(),
        (states[at + 1] == YES).tolist(),
        (blind[new] > blind[old]).tolist(),
        strict=True,
    )
    for last, first, to, hides in rows:
        yield Change(track, last, first, to, track.interval(last, first), hides)


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
        if _not_later(first.track, first.first_new, second.track, second.last_old):
            return True
        return False if _not_later(second.track, second.first_new, first.track, first.last_old) else None
    earlier = first.when.hi is not None and first.when.hi <= second.when.lo
    later = second.when.hi is not None and second.when.hi <= first.when.lo
    return None if earlier == later else earlier


def after(ordered: Sequence[Change], moment: Change) -> Sequence[Change]:
    """Those of changes of one track, in order, that did not surely happen before `moment`."""
    return ordered[bisect_left(ordered, True, key=lambda one: before(one, moment) is not True) :]


def _not_later(one: Track, i: int, other: Track, j: int) -> bool:
    """Whether sample `i` was surely taken with or before sample `j` of the same message, equal stamps included."""
    if one is other:
        return i <= j
    mine, its = one.stamps_ns[i], other.stamps_ns[j]
    return bool(mine < its) or bool(mine == its and _times_seen(one, mine) == _times_seen(other, its) == 1)


def _times_seen(track: Track, stamp_ns: np.int64) -> int:
    first, stop = (np.searchsorted(track.stamps_ns, stamp_ns, side=side) for side in ("left", "right"))
    return int(stop - first)


def _stamp(change: Change, index: int) -> int:
    return int(change.track.stamps_ns[index])


def first_possible(track: Track, since: Change) -> Interval | None:
    """When the condition may have become true after `since`, as early as the evidence leaves open.

    A condition that held already at `since`, and goes on to hold, has not become true. Where evidence is missing at
    `since`, it may have become true at once.
    """
    if track.message == since.track.message:
        start = int(np.searchsorted(track.stamps_ns, _stamp(since, since.last_old), side="right"))
    else:
        start = _surely_before(track, since.when.lo) + 1
    states = track.states
    if 0 < start < len(states) and states[start - 1] == YES:
        ended = np.flatnonzero(states[start:] != YES)
        start = start + int(ended[0]) if len(ended) else len(states)
    if start > 0 and states[start - 1] == BLIND:  # one sample stands for all of a stretch without evidence
        shown = track.interval(start - 1, start if start < len(states) else None)
        return shown.hull(Interval(since.when.lo, since.when.lo))
    open_ = np.flatnonzero(states[start:] != NO)
    if not len(open_):
        return None
    at = start + int(open_[0])
    return track.interval(at - 1 if at else None, at)


def holds_at(track: Track, change: Change) -> int:
    """What the track shows at the instant of a change of the same or another message: YES, NO or UNKNOWN.

    YES or NO only if there are samples surely before and surely after the instant, and all between agree.
    """
    if track.message == change.track.message:
        start = int(np.searchsorted(track.stamps_ns, _stamp(change, change.last_old), side="left"))
        stop = int(np.searchsorted(track.stamps_ns, _stamp(change, change.first_new), side="right"))
    else:
        start = _surely_before(track, change.when.lo)
        late = None if change.when.hi is None else change.when.hi + track.clock.most_ns + track.clock.width_ns
        stop = len(track.stamps_ns) + 1 if late is None else int(np.searchsorted(track.stamps_ns, late)) + 1
    if start < 0 or stop > len(track.stamps_ns):
        return UNKNOWN
    seen = set(track.states[start:stop].tolist())
    return seen.pop() if len(seen) == 1 and seen <= {YES, NO} else UNKNOWN


def _surely_before(track: Track, instant_ns: int) -> int:
    """Index of the last sample whose content was surely taken at or before the instant; -1: there is none."""
    margin = track.clock.least_ns - track.clock.width_ns
    return int(np.searchsorted(track.stamps_ns, instant_ns + margin, side="right")) - 1
