"""What a local date without an offset can mean: one instant, two, or none; said, never guessed.

When clocks are put back an hour of local dates comes twice, when they are put forward one never comes. The rules
are those of the IANA time zone data of this machine.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from interlock.interval import Interval
from interlock.timing.inputs import TimingError

__all__ = ["DateKind", "LocalDate", "OffsetChange", "anywhere", "local_date", "offset_changes"]

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_HOUR: Final = timedelta(hours=1)
_LONGEST_NS: Final = 10 * 366 * 86_400 * 10**9


class DateKind(StrEnum):
    """How many instants bear a local date."""

    UNIQUE = "unique"
    AMBIGUOUS = "ambiguous"
    NON_EXISTENT = "non-existent"


@dataclass(frozen=True, slots=True)
class LocalDate:
    """A local date in a zone, and every instant that bears it."""

    kind: DateKind
    instants_ns: tuple[int, ...]  # since 1970 UTC, earliest first; none if no clock ever showed the date
    sentence: str


@dataclass(frozen=True, slots=True)
class OffsetChange:
    """Clocks were put on (or back, if negative) by `by` at the instant `at_ns`, since 1970 UTC."""

    at_ns: int
    by: timedelta


def local_date(date: datetime, zone: str) -> LocalDate:
    """Every instant at which clocks in `zone` (IANA name, as Europe/Paris) showed `date`, which has no offset."""
    place = _zone(zone)
    _refuse_odd(date)
    found = {_utc(date.replace(tzinfo=place, fold=fold)) for fold in (0, 1)}
    bearing = sorted(
        at for at in found if at.astimezone(place).replace(tzinfo=None, fold=0) == date.replace(fold=0)
    )
    kind = (DateKind.NON_EXISTENT, DateKind.UNIQUE, DateKind.AMBIGUOUS)[len(bearing)]
    said = {
        DateKind.UNIQUE: "was shown once",
        DateKind.AMBIGUOUS: "was shown twice, since clocks were put back: give the offset",
        DateKind.NON_EXISTENT: "was never shown, since clocks were put forward: the date or the zone is wrong",
    }[kind]
    return LocalDate(kind, tuple(_ns(at) for at in bearing), f"{date} in {zone} {said}.")


def anywhere(date: datetime) -> Interval:
    """Holds the instant of a local date of which no zone is known: offsets from -12 h to +14 h are in use."""
    _refuse_odd(date)
    there = date.replace(tzinfo=UTC)
    return Interval(_ns(there - 14 * _HOUR), _ns(there + 12 * _HOUR))


def offset_changes(zone: str, span: Interval) -> tuple[OffsetChange, ...]:
    """Every change of the zone's offset within a span of instants (ns since 1970 UTC, with an upper bound).

    A log of local dates that runs across one steps by as much. Changes that undo each other within an hour of
    each other are not found.
    """
    if span.hi is None or not 0 <= span.lo <= span.hi < span.lo + _LONGEST_NS:
        raise TimingError(f"a span of {span}: give its ends, since 1970, less than ten years apart")
    place, found = _zone(zone), []
    at, last = _instant(span.lo), _instant(span.hi)
    while at < last:
        after = min(at + _HOUR, last)
        before_offset, after_offset = _offset(at, place), _offset(after, place)
        if before_offset != after_offset:
            found.append(OffsetChange(_ns(_first_new(at, after, place)), after_offset - before_offset))
        at = after
    return tuple(found)


def _refuse_odd(date: datetime) -> None:
    if date.tzinfo is not None:
        raise TimingError(f"the date {date} has an offset of its own: nothing is left to tell")
    if not 1970 <= date.year <= 2200:
        raise TimingError(f"the date {date} is none of a log: give one from 1970 on")


def _first_new(old: datetime, new: datetime, place: ZoneInfo) -> datetime:
    """The first instant that has the offset of `new`: a whole second, as in all zones."""
    while new - old > timedelta(seconds=1):
        middle = old + (new - old) / 2
        old, new = (middle, new) if _offset(middle, place) == _offset(old, place) else (old, middle)
    return new.replace(microsecond=0)


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as unknown:
        raise TimingError(
            f"no time zone {name!r} is known here: give an IANA name (as Europe/Paris), or install tzdata"
        ) from unknown


def _offset(at: datetime, place: ZoneInfo) -> timedelta:
    return at.astimezone(place).utcoffset() or timedelta()


def _utc(date: datetime) -> datetime:
    return date.astimezone(UTC)


def _instant(ns: int) -> datetime:
    return _EPOCH + timedelta(microseconds=ns // 1000)


def _ns(at: datetime) -> int:
    return (at - _EPOCH) // timedelta(microseconds=1) * 1000
