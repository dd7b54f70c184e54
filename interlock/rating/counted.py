"""Counts of one device over whole periods, and what they allow to be said of a year.

Counts come as plain numbers and days; who counted, and where they are kept, is not known here. A year is 365 days.
"""

from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from interlock.errors import RatingError
from interlock.rating.wear import DAYS_PER_YEAR, Use, operations_upper_bound

__all__ = ["LEAST_DAYS", "CountedUse", "Decides", "Tally", "larger"]

LEAST_DAYS: Final = 90
"""A year is reckoned from counts over so many days or more (common practice, no source)."""

Decides = Literal["larger", "counted", "stated"]
"""Which number is used where one was counted and one is stated: the larger one if nothing else is said."""


@dataclass(frozen=True, slots=True)
class Tally:
    """So many events in so many days, between a first and a last day."""

    count: int
    days: int
    since: date
    until: date

    @property
    def upper(self) -> float:
        """Events a year at most, with 95 % confidence (see `operations_upper_bound`)."""
        return operations_upper_bound(self.count, self.days / DAYS_PER_YEAR)

    @property
    def mean(self) -> float:
        """Events a year as counted."""
        return self.count * DAYS_PER_YEAR / self.days


@dataclass(frozen=True, slots=True)
class CountedUse:
    """What was counted on one device: periods in order, days between them left out; and the day of its replacement."""

    device: str
    periods: tuple[Use, ...]
    source: str
    installed: date | None = None

    def __post_init__(self) -> None:
        for one in self.periods:
            _ = one.years  # RatingError for a period without a day
        for one, after in zip(self.periods, self.periods[1:], strict=False):
            if after.since < one.until:
                raise RatingError(
                    f"{self.device}: counted until {one.until}, then from {after.since}: give periods in order that "
                    "do not overlap"
                )

    @property
    def days(self) -> int:
        """All days that were counted."""
        return sum((one.until - one.since).days for one in self.periods)

    @property
    def enough(self) -> bool:
        """Whether a year may be reckoned from them."""
        return self.days >= LEAST_DAYS

    def tally(self, kind: Literal["all", "operations", "load_breaks"]) -> Tally | None:
        """All that was counted; None: nothing was."""
        return _tally(self.periods, kind)

    def latest(self, kind: Literal["all", "operations", "load_breaks"]) -> Tally | None:
        """The last periods that make up `LEAST_DAYS`; None: that takes all of them, or there are not so many days."""
        days = 0
        for at in range(len(self.periods) - 1, 0, -1):
            days += (self.periods[at].until - self.periods[at].since).days
            if days >= LEAST_DAYS:
                return _tally(self.periods[at:], kind)
        return None

    def since(self, day: date) -> "CountedUse":
        """The periods that reach beyond a day, those that began before it whole."""
        kept = tuple(one for one in self.periods if one.until > day)
        return CountedUse(self.device, kept, self.source, self.installed)


def _tally(periods: tuple[Use, ...], kind: Literal["all", "operations", "load_breaks"]) -> Tally | None:
    if not periods:
        return None
    light = sum(one.operations for one in periods) if kind != "load_breaks" else 0
    heavy = sum(one.load_breaks for one in periods) if kind != "operations" else 0
    days = sum((one.until - one.since).days for one in periods)
    return Tally(light + heavy, days, periods[0].since, periods[-1].until)


def larger(whole: Tally, latest: Tally | None) -> float:
    """Events a year: the upper bound over all days, or what the latest days show as counted, if that is more.

    So a bench that is used more and more is not judged by its quiet years.
    """
    return max(whole.upper, 0.0 if latest is None else latest.mean)
