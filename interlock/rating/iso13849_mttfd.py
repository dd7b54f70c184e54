"""Mean time to dangerous failure of parts and channels, ISO 13849-1 Annexes C and D (2015 and 2023)."""

from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from interlock.errors import RatingError
from interlock.rating.values import as_written, filled, positive

__all__ = [
    "CAP_YEARS",
    "category_name",
    "mttfd_cap",
    "mttfd_capped",
    "mttfd_class",
    "mttfd_from_b10d",
    "mttfd_series",
    "mttfd_symmetrised",
    "operations_per_year",
    "t10d",
]

CAP_YEARS: Final = {"B": 100.0, "1": 100.0, "2": 100.0, "3": 100.0, "4": 2500.0}
_HIGH_FROM_YEARS: Final = 30.0
_SHORTEST_YEARS: Final = 3.0
_B10D = "B10d is a number of cycles above 0: take it from the maker's data sheet, else from Table C.1"
_USE = "give the mean number of operations a year, above 0"
_YEARS = "an MTTFd is given in years, above 0; leave a part out only for a fault exclusion with its reason"


def category_name(category: object) -> str:
    """'B', '1', '2', '3' or '4' for a category given so, as 'b', or as the integer 1 to 4; else RatingError."""
    name = str(category).upper() if isinstance(category, str | int) and not isinstance(category, bool) else ""
    if name not in CAP_YEARS:
        raise RatingError(f"category is {category!r}: give one of B, 1, 2, 3, 4 (ISO 13849-1, 6.2)")
    return name


def operations_per_year(days_per_year: float, hours_per_day: float, cycle_time_s: float) -> float:
    """Mean number of operations a year: nop = dop · hop · 3600 / tcycle.

    Units: days a year (at most 366), hours a day (at most 24), seconds from one operation to the next.
    Source: ISO 13849-1:2006 and 2015, C.4.2, formula C.2; 2023 Annex C.
    """
    days = positive("days_per_year", days_per_year, "give days a year, above 0 and at most 366", at_most=366)
    hours = positive("hours_per_day", hours_per_day, "give hours a day, above 0 and at most 24", at_most=24)
    cycle = positive("cycle_time_s", cycle_time_s, "give the seconds between two operations, above 0")
    return positive("operations a year", days * hours * 3600 / cycle, _USE)


def mttfd_from_b10d(b10d: float, operations_per_year: float) -> float:
    """Years to dangerous failure of a wearing part: MTTFd = B10d / (0.1 · nop); not capped.

    Units: cycles, operations a year. Source: ISO 13849-1:2006 and 2015, C.4.2, formula C.1; 2023 Annex C.
    """
    cycles = positive("b10d", b10d, _B10D)
    use = positive("operations_per_year", operations_per_year, _USE)
    return positive("MTTFd", 10 * cycles / use, _YEARS)


def t10d(b10d: float, operations_per_year: float) -> float:
    """Years until one part in ten has failed dangerously, when it must be replaced: T10d = B10d / nop.

    Units: cycles, operations a year. Source: ISO 13849-1:2006 and 2015, C.4.2, formula C.3; 2023 Annex C.
    """
    cycles = positive("b10d", b10d, _B10D)
    use = positive("operations_per_year", operations_per_year, _USE)
    return positive("T10d", cycles / use, _YEARS)


def mttfd_series(mttfds: Iterable[float]) -> float:
    """Years to dangerous failure of a channel of these parts: 1 / Σ(1/MTTFd,i); not capped.

    Source: ISO 13849-1:2006 and 2015, D.1, formula D.1 (parts count method); 2023 Annex D.
    """
    parts = filled("mttfds", mttfds, "a channel needs the MTTFd of at least one part")
    years = [positive(f"MTTFd of part {i}", value, _YEARS) for i, value in enumerate(parts, 1)]
    return positive("MTTFd", float(1 / sum((1 / as_written(value) for value in years), Fraction(0))), _YEARS)


def mttfd_cap(category: object) -> float:
    """The longest MTTFd of a channel that may be used, in years: 100, in category 4 2500.

    Source: ISO 13849-1:2015, 4.5.2 and 2023 (the 2006 edition has 100 years for category 4 too).
    """
    return CAP_YEARS[category_name(category)]


def mttfd_capped(mttfd: float, category: object) -> float:
    """The MTTFd of one channel limited for its category; done for each channel before symmetrising."""
    return min(positive("mttfd", mttfd, _YEARS), mttfd_cap(category))


def mttfd_symmetrised(channel_1: float, channel_2: float, *, category: object = None) -> float:
    """The MTTFd, in years, that two equal channels would need: 2/3 · (M1 + M2 - 1/(1/M1 + 1/M2)).

    Each channel is capped first, since the order decides (1692.7 and 35 years give 72.7, not 100). With
    `category` its cap is used. Without it no result is ever above what the right order gives: a channel
    above 100 years counts as 100 unless both are above, where the later cap comes to the same.
    Source: ISO 13849-1:2006 and 2015, D.2, formula D.2; cap 4.5.2; 2023 Annex D.
    """
    first, second = positive("channel_1", channel_1, _YEARS), positive("channel_2", channel_2, _YEARS)
    if category is not None:
        cap = mttfd_cap(category)
    else:
        cap = CAP_YEARS["3"] if min(first, second) <= CAP_YEARS["3"] else CAP_YEARS["4"]
    m1, m2 = (as_written(min(years, cap)) for years in (first, second))
    return float(Fraction(2, 3) * (m1 + m2 - 1 / (1 / m1 + 1 / m2)))


def mttfd_class(mttfd: float) -> str:
    """'low' from 3, 'medium' from 10, 'high' from 30 years on; below 3 years no channel is accepted.

    Source: ISO 13849-1:2006 and 2015, Table 5 (4.5.2). The standard's 5 % accuracy of borders is not used.
    """
    years = positive("mttfd", mttfd, _YEARS)
    if years < _SHORTEST_YEARS:
        raise RatingError(
            f"mttfd is {years!r} years: below 3 years a channel is not accepted; better or less used parts needed"
        )
    return "low" if years < 10 else "medium" if years < _HIGH_FROM_YEARS else "high"
