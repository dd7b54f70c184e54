"""How the clock of one source compares with that of the reference, by what the bench description states of it."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from interlock.bench.source_models import CommonEdge, StatedClock
from interlock.errors import InterlockError
from interlock.interval import Interval
from interlock.replay.observation import Observation
from interlock.timing.align import Alignment, Records, Train, by_offset, by_trains
from interlock.timing.clock import ClockDrift
from interlock.timing.edges import changes
from interlock.timing.inputs import NotIdentified, TimingError
from interlock.timing.track import BLIND, Track

__all__ = ["NotAligned", "aligned"]

_INSTEAD: Final = (
    "in the bench file, at its 'clock', state bounds of the 'offset', or 'edges' that both records show"
)


class NotAligned(InterlockError):
    """The clock of a source cannot be told from what is stated of it and what the records show."""


def aligned(stated: StatedClock, own: Observation, reference: Observation) -> Alignment:
    """The clock of the source that `own` shows, on the time base of `reference`; raises NotAligned with what to add.

    Every instant of the traces counts from their first stamps.
    """
    drift = ClockDrift.ppm(Fraction(stated.drift.value))
    offset = (
        None if stated.offset is None else _offset(stated.offset.least, stated.offset.most, own, reference)
    )
    if not stated.edges:
        if offset is None:
            raise NotAligned("neither an offset nor edges are stated")
        return by_offset(offset, drift)
    pairs = [(edge, own.track_of(edge.here), reference.track_of(edge.there)) for edge in stated.edges]
    trains = [train for edge, here, there in pairs for train in _trains(edge, here, there)]
    _refuse_none(pairs)
    own_end, reference_end = own.trace.end_ns, reference.trace.end_ns
    if offset is None:
        search = Interval(-own_end - reference_end, own_end + reference_end)
    else:
        search = offset.shift(drift.over(own_end).hull(Interval(0, 0)))
    unbroken = not any((track.states == BLIND).any() for _, here, there in pairs for track in (here, there))
    records = Records(Interval(0, reference_end), Interval(0, own_end)) if unbroken else None
    try:
        return by_trains(trains, drift, search, stated.missed, records=records, steady=stated.steady)
    except (NotIdentified, TimingError) as error:
        raise NotAligned(f"{_seen(pairs)}: {error}; {_INSTEAD}") from error


def _offset(least_ns: int, most_ns: int, own: Observation, reference: Observation) -> Interval:
    """The stated offset of stamps as the files hold them, as one of stamps that count from the first of each trace.

    If only one of the two bears dates, its stamps count from its first; if both do, the offset is known no better
    than the dates.
    """
    both = own.trace.absolute == reference.trace.absolute
    there = 0 if reference.trace.absolute and not both else reference.trace.start_ns
    here = 0 if own.trace.absolute and not both else own.trace.start_ns
    dated = both and own.trace.absolute
    coarse = own.trace.start_width_ns + reference.trace.start_width_ns if dated else 0
    return Interval(least_ns + here - there - coarse, most_ns + here - there + coarse)


def _trains(edge: CommonEdge, here: Track, there: Track) -> Iterator[Train]:
    """Rises with rises, falls with falls; those of the reference as the instants at which the source's came."""
    earlier = Interval(-edge.later.most, -edge.later.least)
    for to in (True, False):
        yield Train([when.shift(earlier) for when in _edges(there, to)], list(_edges(here, to)))


def _edges(track: Track, to: bool) -> Iterator[Interval]:
    return (change.when for change in changes(track) if change.to is to)


def _refuse_none(pairs: Iterable[tuple[CommonEdge, Track, Track]]) -> None:
    for edge, here, there in pairs:
        for track, condition in ((here, edge.here), (there, edge.there)):
            if not changes(track):
                raise NotAligned(f"'{condition.text}' never changes in its log; {_INSTEAD}")


def _seen(pairs: Iterable[tuple[CommonEdge, Track, Track]]) -> str:
    return ", ".join(
        f"'{edge.here.text}' changes {len(changes(here))} times and '{edge.there.text}' {len(changes(there))} times"
        for edge, here, there in pairs
    )
