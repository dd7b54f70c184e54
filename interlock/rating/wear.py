"""How fast parts wear, load-breaking stops counted apart, and the day by which each must be replaced.

Counts come from the register or from logs. Dates are passed in; a year is 365 days as in ISO 13849-1.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from math import floor
from typing import Final

from scipy.stats import chi2

from interlock.errors import RatingError
from interlock.rating.values import at_least_zero, positive, share, whole

__all__ = [
    "DAYS_PER_YEAR",
    "Replacement",
    "Use",
    "days_after",
    "operations_upper_bound",
    "replaced_by",
    "t10d_of_mix",
    "wear_fraction",
]

DAYS_PER_YEAR: Final = 365
_CYCLES: Final = "give cycles, above 0, from the maker's data sheet"
_ROUNDING: Final = 1e-6
"""A tenth of a second: a sum of days that is whole but for the last binary digit stays whole."""
_COUNT: Final = "give a count of operations, 0 or more"


@dataclass(frozen=True, slots=True)
class Use:
    """How often a part switched between two days: without load, and breaking its load (emergency stops)."""

    operations: int  # all without load: guard openings, resets, proof tests
    load_breaks: int
    since: date
    until: date

    @property
    def years(self) -> float:
        """The time observed, in years; RatingError if it is not above zero."""
        days = (self.until - self.since).days
        if days <= 0:
            raise RatingError(
                f"counted from {self.since} until {self.until}: at least one day must lie between"
            )
        return days / DAYS_PER_YEAR


def operations_upper_bound(count: int, years: float, confidence: float = 0.95) -> float:
    """Operations a year that are exceeded only if the count was unluckily low; never zero.

    Upper bound of a Poisson rate: χ²(confidence; 2·count + 2) / (2 · years). Source: Garwood (1936).
    """
    seen = whole("count", count, _COUNT, at_least=0)
    level = share("confidence", confidence, "give a fraction from 0 to below 1")
    return float(chi2.ppf(level, 2 * seen + 2)) / (2 * positive("years", years, "give years, above 0"))


def t10d_of_mix(
    operations_per_year: float, load_breaks_per_year: float, b10d: float, b10d_load_break: float
) -> float:
    """Years until one part in ten has failed dangerously when light and load-breaking switching add up.

    1 / (nop/B10d + nlb/B10d,lb): each kind uses its share of the life. Source: ISO 13849-1, C.4.2 for one kind;
    the sum of shares is common practice, no source.
    """
    light = at_least_zero("operations_per_year", operations_per_year, _COUNT) / positive(
        "b10d", b10d, _CYCLES
    )
    heavy = at_least_zero("load_breaks_per_year", load_breaks_per_year, _COUNT)
    worn = light + heavy / positive("b10d_load_break", b10d_load_break, _CYCLES)
    return 1 / positive("wear a year", worn, "give at least one operation a year")


def wear_fraction(operations: float, load_breaks: float, b10d: float, b10d_load_break: float) -> float:
    """The share of the life to T10d that is used up; 1 and more: replace now."""
    light = at_least_zero("operations", operations, _COUNT) / positive("b10d", b10d, _CYCLES)
    heavy = at_least_zero("load_breaks", load_breaks, _COUNT)
    return light + heavy / positive("b10d_load_break", b10d_load_break, _CYCLES)


@dataclass(frozen=True, slots=True)
class Replacement:
    """By which day a part must be replaced, and what decides it: 'wear' or 'mission time'."""

    due: date
    decided_by: str
    t10d_years: float
    used: float  # share of the life used until the day of the last count


def replaced_by(
    installed: date, known_until: date, used: float, life_years: float, mission_time_years: float
) -> Replacement:
    """The day by which a part must be replaced whose life was used so far on a day, and goes on to be at a rate.

    `used`: share of the life on the day `known_until`; `life_years`: T10d at the rate from then on. The mission time
    counts from `installed`. A life used up already ends on `known_until` at the latest.
    """
    life = positive("life_years", life_years, "give the years to T10d, above 0")
    gone = at_least_zero("used", used, "give the share of the life that is used")
    mission = positive(
        "mission_time_years", mission_time_years, "give years, above 0 and at most 100", at_most=100
    )
    worn_years = (known_until - installed).days / DAYS_PER_YEAR + (1 - gone) * life
    years = min(worn_years, mission)
    due = days_after("the part", installed, years)
    return Replacement(due, "wear" if worn_years < mission else "mission time", life, gone)


def days_after(what: str, installed: date, years: float) -> date:
    """The day on which so many years of 365 days are over; RatingError, which names `what`, if no calendar has it."""
    try:
        return installed + timedelta(days=floor(years * DAYS_PER_YEAR + _ROUNDING))
    except OverflowError:
        raise RatingError(
            f"{what}, installed {installed}: no calendar reaches {years:g} years further"
        ) from None
