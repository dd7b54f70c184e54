"""Bringing two sources to one time base: by a given offset, by edges seen in both, or by a train of pulses.

Each way gives a clock for the source whose uncertainty is that of the evidence. Instants are intervals: on the
common time base for the reference, on the source's own stamps for the source. Only events that both record at the
same physical instant may be paired; add the wire's and the sensors' own delays to their intervals.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.timing.clock import ClockDrift, SourceClock
from interlock.timing.inputs import NotIdentified, TimingError, whole

__all__ = ["Alignment", "Pair", "Records", "Train", "by_edges", "by_offset", "by_trains"]

Ints = NDArray[np.int64]
_MOST_PAIRS: Final = 1_000_000


@dataclass(frozen=True, slots=True)
class Pair:
    """One event as two sources saw it."""

    common: Interval  # on the common time base
    stamp: Interval  # on the source's clock


@dataclass(frozen=True, slots=True)
class Alignment:
    """The clock of a source, and how it was found."""

    clock: SourceClock
    events: int  # how many common events it rests on; 0: on what somebody stated
    sentence: str


def by_offset(offset: Interval, drift: ClockDrift, anchor_ns: int = 0) -> Alignment:
    """The clock that somebody states: common time minus stamp lies in `offset` at the stamp `anchor_ns`."""
    clock = SourceClock(anchor_ns, offset, drift)
    return Alignment(clock, 0, f"Offset as stated, {_shown(offset)}.")


def by_edges(pairs: Iterable[Pair], drift: ClockDrift, *, steady: bool = False) -> Alignment:
    """The clock that every pair agrees with, given that its drift lies within `drift`.

    One pair gives the offset. `steady`: it is stated that the drift does not change during the record; then two
    pairs far apart narrow it. Raises NotIdentified without a pair, TimingError if no clock agrees with all of them.
    """
    given = list(pairs)
    if not given or any(one.common.hi is None or one.stamp.hi is None for one in given):
        raise NotIdentified(
            "no pair of edges, or one without an upper bound, is given: no clock can be found"
        )
    found = sorted(given, key=lambda pair: (pair.stamp.lo, pair.stamp.hi or 0))
    narrowed = _drift(found, drift) if steady else drift
    anchor = (found[0].stamp.lo + (found[-1].stamp.hi or 0)) // 2
    offsets = [_offset(pair, narrowed, anchor) for pair in found]
    low, high = max(one.lo for one in offsets), min(one.hi or 0 for one in offsets)
    if low > high:
        raise TimingError("no offset agrees with every pair of edges: pair edges of the same event")
    clock = SourceClock(anchor, Interval(low, high), narrowed)
    return Alignment(clock, len(found), f"Aligned by {len(found)} common edges, {_shown(clock.offset)}.")


@dataclass(frozen=True, slots=True)
class Train:
    """Events of one kind, such as the rises of one line, as two sources saw them."""

    reference: Sequence[Interval]  # on the common time base
    source: Sequence[Interval]  # on the source's own stamps


@dataclass(frozen=True, slots=True)
class Records:
    """From when to when two sources recorded without a break, each on its own time."""

    reference: Interval
    source: Interval


def by_trains(
    trains: Sequence[Train],
    drift: ClockDrift,
    search: Interval,
    missed: int = 0,
    *,
    records: Records | None = None,
    steady: bool = False,
) -> Alignment:
    """The clock that lays the events of a source over those of the reference, each train over its own.

    `search`: the offsets thought possible at the middle of the source's events. It is supposed that all events but
    `missed` of the side with fewer of them, in each train, are seen by the other side too. Every offset that
    leaves no more than these without a partner stays possible, unless (with `records`) more than `missed` events
    lie surely within the other's record and have none there. If such offsets lie apart, as with an even train, the
    trains do not tell and NotIdentified is raised; never is the likeliest taken. `steady` as in `by_edges`.
    """
    events = [event for train in trains for event in train.source]
    ends = [_bounded(event) for event in events]
    middle = (min(event.lo for event in events) + max(ends)) // 2 if events else 0
    needed = sum(min(len(train.reference), len(train.source)) for train in trains) - whole("missed", missed)
    if needed < 1:
        raise NotIdentified("too few pulses remain beside those that may be missed")
    meetings = _meetings(trains, drift, middle, search)
    possible = [
        Interval(*stretch)
        for stretch in _covered(meetings.lows, meetings.highs, meetings.owners, needed)
        if records is None or _lonely(trains, meetings, Interval(*stretch), drift, middle, records) <= missed
    ]
    if not possible:
        raise NotIdentified(
            "no offset lays the trains over each other: some events are in one record only, "
            "or the clocks drift by more than is stated"
        )
    if len(possible) > 1:
        raise NotIdentified(
            f"{len(possible)} separate offsets lay the trains over each other: give another search"
        )
    if steady and not missed:
        return by_edges(_sole_pairs(trains, meetings, possible[0]), drift, steady=True)
    clock = SourceClock(middle, possible[0], drift)
    return Alignment(clock, needed, f"Aligned by a train of {needed} pulses or more, {_shown(clock.offset)}.")


def _drift(pairs: Sequence[Pair], drift: ClockDrift) -> ClockDrift:
    """The drift, narrowed by the pairs that are farthest apart."""
    first, last = pairs[0], pairs[-1]
    least = last.stamp.lo - (first.stamp.hi or 0)
    if least <= 0:
        return drift
    most = (last.stamp.hi or 0) - first.stamp.lo
    quick, slow = (last.common.hi or 0) - first.common.lo, last.common.lo - (first.common.hi or 0)
    low = max(drift.low, Fraction(slow, most if slow >= 0 else least) - 1)
    high = min(drift.high, Fraction(quick, least if quick >= 0 else most) - 1)
    if low > high:
        raise TimingError(
            "no drift within its bounds agrees with the pairs of edges: pair edges of the same event"
        )
    return ClockDrift(low, high)


def _offset(pair: Pair, drift: ClockDrift, anchor: int) -> Interval:
    """Common minus stamp at the anchor, as far as one pair tells."""
    early, late = drift.over(pair.stamp.lo - anchor), drift.over((pair.stamp.hi or 0) - anchor)
    grown = early.hull(late)
    return Interval(
        pair.common.lo - (pair.stamp.hi or 0) - (grown.hi or 0),
        (pair.common.hi or 0) - pair.stamp.lo - grown.lo,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Meetings:
    """Each pair of events that some offset within the search brings together; all arrays [pairs]."""

    lows: Ints  # the offsets that do so
    highs: Ints
    owners: Ints  # number of the event, on the side of its train that has fewer
    references: Ints  # number of the event of the reference, through all trains
    sources: Ints


def _meetings(trains: Sequence[Train], drift: ClockDrift, middle: int, search: Interval) -> _Meetings:
    pairs = sum(len(train.reference) * len(train.source) for train in trains)
    if pairs > _MOST_PAIRS:
        count = ", ".join(f"{len(train.reference)} and {len(train.source)}" for train in trains)
        raise TimingError(f"{count} pulses: align by a shorter part of the trains")
    parts = []
    first = np.zeros(3, np.int64)  # of this train: owner, event of the reference, event of the source
    for train in trains:
        lows, highs, owners = _candidates(train.reference, train.source, drift, middle)
        refs, own = np.indices(lows.shape)
        parts.append([lows, highs, owners + first[0], refs + first[1], own + first[2]])
        fewer = min(len(train.reference), len(train.source))
        first = first + np.array([fewer, len(train.reference), len(train.source)])
    joined = [np.concatenate([part[k].ravel() for part in parts]) for k in range(5)]
    lows, highs = np.maximum(joined[0], search.lo), np.minimum(joined[1], _bounded(search))
    inside = lows <= highs
    return _Meetings(lows[inside], highs[inside], *(one[inside] for one in joined[2:]))


def _lonely(
    trains: Sequence[Train],
    meetings: _Meetings,
    offsets: Interval,
    drift: ClockDrift,
    middle: int,
    records: Records,
) -> int:
    """Events surely within the other side's record, at each of these offsets, that meet no event of it at any."""
    met = (meetings.lows <= _bounded(offsets)) & (meetings.highs >= offsets.lo)
    seen_there, seen_here = set(meetings.references[met].tolist()), set(meetings.sources[met].tolist())
    clock = SourceClock(middle, offsets, drift)
    first, last = clock.common(records.source.lo), clock.common(_bounded(records.source))
    source = Interval(_bounded(first), max(last.lo, _bounded(first)))
    there = [event for train in trains for event in train.reference]
    here = [clock.common(event) for train in trains for event in train.source]
    alone = sum(_within(event, source) and number not in seen_there for number, event in enumerate(there))
    return alone + sum(
        _within(event, records.reference) and number not in seen_here for number, event in enumerate(here)
    )


def _within(event: Interval, record: Interval) -> bool:
    return record.lo < event.lo and _bounded(event) < _bounded(record)


def _sole_pairs(trains: Sequence[Train], meetings: _Meetings, offsets: Interval) -> list[Pair]:
    """The pairs of which neither event has another partner at these offsets."""
    met = (meetings.lows <= _bounded(offsets)) & (meetings.highs >= offsets.lo)
    refs, own = meetings.references[met], meetings.sources[met]
    once_there, once_here = np.bincount(refs), np.bincount(own)
    there = [event for train in trains for event in train.reference]
    here = [event for train in trains for event in train.source]
    return [
        Pair(there[ref], here[source])
        for ref, source in zip(refs.tolist(), own.tolist(), strict=True)
        if once_there[ref] == once_here[source] == 1
    ]


def _candidates(
    reference: Sequence[Interval], source: Sequence[Interval], drift: ClockDrift, middle: int
) -> tuple[Ints, Ints, Ints]:
    """The offsets that each pair allows, [reference, source], and the number of its event on the shorter side."""
    alone = [_offset(Pair(Interval(0, 0), one), drift, middle) for one in source]
    starts = np.array([one.lo for one in reference], dtype=np.int64)
    ends = np.array([_bounded(one) for one in reference], dtype=np.int64)
    lows = starts[:, None] + np.array([one.lo for one in alone], dtype=np.int64)
    highs = ends[:, None] + np.array([_bounded(one) for one in alone], dtype=np.int64)
    owners = np.arange(len(reference))[:, None] + 0 * lows
    if len(source) < len(reference):
        owners = np.arange(len(source)) + 0 * lows
    return lows, highs, owners


def _covered(
    lows: NDArray[np.int64], highs: NDArray[np.int64], owners: NDArray[np.int64], needed: int
) -> list[tuple[int, int]]:
    """The stretches of offsets at which at least `needed` pulses have a partner."""
    events = sorted(
        [(int(at), 0, int(owner)) for at, owner in zip(lows, owners, strict=True)]
        + [(int(at), 1, int(owner)) for at, owner in zip(highs, owners, strict=True)]
    )
    depth: dict[int, int] = {}
    found: list[tuple[int, int]] = []
    since: int | None = None
    for at, closing, owner in events:
        depth[owner] = depth.get(owner, 0) + (-1 if closing else 1)
        if depth[owner] == 0:
            del depth[owner]
        if since is None and len(depth) >= needed:
            since = at
        elif since is not None and len(depth) < needed:
            found.append((since, at))
            since = None
    return found


def _bounded(instant: Interval) -> int:
    if instant.hi is None:
        raise TimingError(
            "a pulse or a search without an upper bound aligns nothing: bound it or leave it out"
        )
    return instant.hi


def _shown(offset: Interval) -> str:
    half = Fraction((offset.hi or 0) - offset.lo, 2)
    return f"offset known to ±{float(half) / 1e6:.3g} ms"
