"""Common cause failures by IEC 62061:2021, Annex E: the measures taken, their points, and the factor that follows.

Structure and rules (a measure counts fully or not at all, items 9, 11, 12 and 13 are expected) were seen in a public
copy of the annex. What each item asks and its points are from memory, of Table F.1 of the 2005 edition; that
separation is worth 25 points in all was seen in a maker's summary. They are other measures and other points than
those of ISO 13849-1, Annex F: never use one list's score with the other standard.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from interlock.errors import RatingError
from interlock.rating.iec62061 import beta_from_score
from interlock.rating.values import choice

__all__ = ["EXPECTED", "MEASURES_62061", "Item", "beta_by_measures", "ccf_points"]

_MOST: Final = 100
"""The table of factors ends here."""


@dataclass(frozen=True, slots=True)
class Item:
    """One item of the list: it counts fully or not at all."""

    number: str
    points: int
    meaning: str


MEASURES_62061: Final = {
    "signal_cables_apart": Item(
        "1a", 5, "signal cables of the channels are apart everywhere, or shielded enough"
    ),
    "coded_signals": Item("1b", 10, "signals are coded so that errors of their transmission are found"),
    "power_cables_apart": Item(
        "2", 5, "cables for signals and for power are apart everywhere, or shielded enough"
    ),
    "elements_apart": Item(
        "3", 5, "elements that could fail together are separate devices in their own enclosures"
    ),
    "different_technology": Item(
        "4", 8, "channels of different electrical technology, as electronics and a relay"
    ),
    "different_principle": Item("5", 10, "elements that work by different physical principles"),
    "different_in_time": Item(
        "6", 10, "elements that work, or fail, at different times or in different ways"
    ),
    "tested_every_minute": Item("7", 10, "diagnostic test of the elements at least once a minute"),
    "channels_not_linked": Item("8", 2, "no link between the channels but for diagnostic tests"),
    "failure_analysis": Item(
        "9", 9, "failure analysis searched for common causes, those found were designed away"
    ),
    "field_failures_used": Item("10", 9, "failures in the field are analysed and fed back into the design"),
    "training": Item("11", 4, "designers know causes and consequences of common cause failures"),
    "within_tested_environment": Item(
        "12", 9, "always within the climate, dust and vibration it was tested for"
    ),
    "emc_immunity": Item("13", 9, "immune to electromagnetic interference up to the limits of the standard"),
}
"""The items by the name used in a bench description."""

EXPECTED: Final = ("failure_analysis", "training", "within_tested_environment", "emc_immunity")
"""Items 9, 11, 12 and 13: each is to be taken, or left out with a reason (2021, Annex E, E.2.2)."""


def ccf_points(measures: Iterable[str], reasons_without: Mapping[str, str] | None = None) -> int:
    """The points of the measures taken, each named once, at most 100.

    `reasons_without`: for each expected item that is not taken why not. RatingError for an unknown name, one named
    twice, or an expected one that is neither taken nor explained. Source: IEC 62061:2021, Table E.1 (points from
    memory).
    """
    if isinstance(measures, str):
        raise RatingError(f"measures is the text {measures!r}: give a list of names")
    taken = [choice("measure against common cause failure", name, MEASURES_62061) for name in measures]
    if len(set(taken)) < len(taken):
        raise RatingError(f"measures {taken!r} name one twice: each counts once")
    reasons = reasons_without or {}
    if odd := sorted(set(reasons) - set(EXPECTED) | set(reasons) & set(taken)):
        raise RatingError(
            f"a reason is given for {', '.join(odd)}: give one only for {', '.join(EXPECTED)}, and only if not taken"
        )
    if open_items := [name for name in EXPECTED if name not in taken and name not in reasons]:
        raise RatingError(
            f"{', '.join(open_items)} not taken: IEC 62061:2021, Annex E expects that; take it, or give the reason"
        )
    return min(_MOST, sum(MEASURES_62061[name].points for name in taken))


def beta_by_measures(measures: Iterable[str], reasons_without: Mapping[str, str] | None = None) -> float:
    """The common-cause factor, a fraction, by the measures taken; never below 1 %.

    Source: IEC 62061:2021, Tables E.1 and E.2 (points and factors from memory).
    """
    return beta_from_score(ccf_points(measures, reasons_without))
