"""How often an interlock must be tested, and what series-wired switches hide: ISO 14119, ISO/TR 24119."""

import calendar
from datetime import date
from typing import Final

from interlock.errors import RatingError
from interlock.rating.iso13849_dc import DC_CLASSES
from interlock.rating.iso13849_level import PLS, performance_level
from interlock.rating.iso13849_mttfd import category_name
from interlock.rating.iso13849_pfhd import pfhd
from interlock.rating.values import choice, whole

__all__ = [
    "INTERVAL_SOURCE",
    "masking_best_pl",
    "masking_dc_class",
    "masking_dc_regular",
    "masking_level",
    "months_later",
    "proof_test_interval_months",
]

INTERVAL_SOURCE: Final = "ISO 14119:2013, 8.2 (clause from memory) and recommendation for use CNB/M/11.050"
"""Where the intervals between proof tests come from."""
_MONTHS: Final = {"e": 1, "d": 12}
_ADMISSIBLE: Final = {1: "medium", 2: "medium", 3: "none"}
_BEST_MTTFD: Final = 100.0  # years, the cap of a channel


def proof_test_interval_months(required_pl: str, category: object) -> int | None:
    """Months at most between proof tests of a two-channel function with electromechanical outputs.

    1 for required PL e, 12 for required PL d, in categories 3 and 4; None where the standard names no interval.
    The *required* level counts, even if a better one is reached. Source: recommendation for use CNB/M/11.050;
    ISO 14119:2013, 8.2 (clause from memory). Category 4 with PL d is treated as category 3 (cautious).
    """
    level = choice("required_pl", required_pl, PLS)
    return _MONTHS.get(level) if category_name(category) in ("3", "4") else None


def months_later(day: date, months: int) -> date:
    """The same day of the month so many months later, or the last day of a shorter month."""
    count = whole("months", months, "give whole months, 1 or more", at_least=1)
    year, month = divmod(day.year * 12 + day.month - 1 + count, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def masking_level(frequent: int, others: int) -> int:
    """How likely guard switches in series hide each other's faults: 1 (least), 2 or 3.

    Source: ISO/TR 24119:2015, fault masking probability level of its Table 2, from memory: the level goes with the
    class of `masking_dc_class`, 1 with medium, 2 with low, 3 with none. RatingError for fewer than two guards.
    """
    found = masking_dc_class(frequent, others)
    if found == "high":
        raise RatingError("frequent and others together are 1: a single guard hides nothing")
    return {"medium": 1, "low": 2, "none": 3}[found]


def masking_dc_class(frequent: int, others: int) -> str:
    """The best DC class of guard switches whose contacts are wired in series to one logic unit.

    `frequent` of them are opened at least hourly, `others` more rarely; a single switch hides nothing: 'high'.
    Source: ISO/TR 24119:2015, Table 1, simplified method (cell 0 and 2 seen, the other cells from memory).
    """
    often = whole("frequent", frequent, "give the number of guards, 0 or more", at_least=0)
    rare = whole("others", others, "give the number of guards, 0 or more", at_least=0)
    match (often, rare):
        case (0, 0):
            raise RatingError("frequent and others are 0: give the number of guards in the series")
        case (0, 1) | (1, 0):
            return "high"
        case (0, count):
            return "medium" if count <= 4 else "low" if count <= 30 else "none"
        case (1, count):
            return "medium" if count == 1 else "low" if count <= 4 else "none"
        case _:
            return "none"


def masking_dc_regular(level: int, read: str) -> str:
    """The DC class by the regular method: what was read in its tables, but no more than this level admits.

    `read`: 'none', 'low', 'medium' or 'high', by whoever holds ISO/TR 24119:2015 (6.3). Its tables are not at hand,
    so the bounds are our own cautious ones: never better than 'medium', and 'none' at level 3. RatingError for others.
    """
    stated = choice("read", read, DC_CLASSES)
    return min(stated, _ADMISSIBLE[level], key=DC_CLASSES.index)


def masking_best_pl(dc: str) -> str:
    """The best level of contacts in series whose coverage is of this class: 'c', 'd' or 'e'.

    Source: ISO 13849-1:2015, Table K.1, row of 100 years: category 1 without coverage, else category 3. That coverage
    none leaves PL c at most is told by trade articles on ISO/TR 24119 too.
    """
    allowed = choice("dc", dc, DC_CLASSES[:3])
    return performance_level(pfhd("1" if allowed == "none" else "3", _BEST_MTTFD, allowed))
