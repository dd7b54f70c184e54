"""Common cause failures by IEC 62061:2021, Annex E: the measures taken, their points, and the factor that follows.

Structure and rules (a measure counts fully or not at all, items 9, 11, 12 and 13 are expected) were seen in a public
copy of the annex. What each item asks and its points are from memory, of Table F.1 of the 2005 edition; that
separation is worth 25 points in all was seen in a maker's summary. They are other measures and other points than
those of ISO 13849-1, Annex F: never use one list's score with the other standard.
"""

from collections.abc import Iterable, Mapping
from typing import Final

from interlock.errors import RatingError
from interlock.rating.ccf import Measure, taken_once

__all__ = ["EXPECTED", "MEASURES_62061", "ccf_points"]

_MOST: Final = 100
"""The table of factors ends here."""


MEASURES_62061: Final = {
    "signal_cables_apart": Measure(
        "1a", 5, "signal cables of the channels are apart everywhere, or shielded enough"
    ),
    "coded_signals": Measure("1b", 10, "signals are coded so that errors of their transmission are found"),
    "power_cables_apart": Measure(
        "2", 5, "cables for signals and for power are apart everywhere, or shielded enough"
    ),
    "elements_apart": Measure(
        "3", 5, "elements that could fail together are separate devices in their own enclosures"
    ),
    "different_technology": Measure(
        "4", 8, "channels of different electrical technology, as electronics and a relay"
    ),
    "different_principle": Measure("5", 10, "elements that work by different physical principles"),
    "different_in_time": Measure(
        "6", 10, "elements that work, or fail, at different times or in different ways"
    ),
    "tested_every_minute": Measure("7", 10, "diagnostic test of the elements at least once a minute"),
    "channels_not_linked": Measure("8", 2, "no link between the channels but for diagnostic tests"),
    "failure_analysis": Measure(
        "9", 9, "failure analysis searched for common causes, those found were designed away"
    ),
    "field_failures_used": Measure(
        "10", 9, "failures in the field are analysed and fed back into the design"
    ),
    "training": Measure("11", 4, "designers know causes and consequences of common cause failures"),
    "within_tested_environment": Measure(
        "12", 9, "always within the climate, dust and vibration it was tested for"
    ),
    "emc_immunity": Measure(
        "13", 9, "immune to electromagnetic interference up to the limits of the standard"
    ),
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
    taken = taken_once(measures, MEASURES_62061)
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
