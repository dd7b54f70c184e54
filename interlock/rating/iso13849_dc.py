"""Average diagnostic coverage and its classes, ISO 13849-1 Annex E and Table 6 (2015; 2023 alike)."""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Final

from interlock.errors import RatingError
from interlock.rating.values import as_written, filled, positive, share

__all__ = ["DC_CLASSES", "DC_FLOOR", "dc_average", "dc_class", "dc_class_with_tolerance", "extreme_mttfds"]

DC_CLASSES: Final = ("none", "low", "medium", "high")
DC_FLOOR: Final = {"none": 0.0, "low": 0.60, "medium": 0.90, "high": 0.99}
"""The least coverage of each class, a fraction (2006 and 2015 Table 6)."""

_BORDER_ACCURACY: Final = Fraction(5, 100)
_NEED = "give diagnostic coverage as a fraction from 0 (untested) to below 1; no test finds everything"


def dc_average(parts: Iterable[tuple[float, float]]) -> float:
    """The average coverage of parts [(dc, mttfd), ...]: Σ(DCi/Mi) / Σ(1/Mi), a fraction.

    Untested parts have DC 0 and stay in; parts with fault exclusion are left out; MTTFd in years, not capped
    (from memory). Source: ISO 13849-1:2006 and 2015, E.2, formula E.1; 2023 Annex E.
    """
    pairs = filled("parts", parts, "the average needs (dc, mttfd) of at least one part")
    above, below = Fraction(0), Fraction(0)
    for i, pair in enumerate(pairs, 1):
        coverage, years = _pair(i, pair)
        above += coverage / years
        below += 1 / years
    return float(above / below)


def extreme_mttfds(parts: Sequence[tuple[float, float, float]], *, lowest: bool) -> tuple[float, ...]:
    """For parts [(dc, one MTTFd, another MTTFd), ...] the MTTFds between these that make the average extreme.

    The average weighs each part by 1/MTTFd, so a better part that is tested well lowers it: with ranges the worst
    average is not at the worst MTTFds. It lies where all parts below some coverage weigh most and all above
    least (`lowest`), or the other way round.
    """
    order = sorted(range(len(parts)), key=lambda i: parts[i][0])
    choices = []
    for cut in range(len(parts) + 1):
        heavy = set(order[:cut]) if lowest else set(order[cut:])
        choices.append(tuple(min(p[1:]) if i in heavy else max(p[1:]) for i, p in enumerate(parts)))
    chosen = min if lowest else max
    return chosen(
        choices, key=lambda years: dc_average([(p[0], m) for p, m in zip(parts, years, strict=True)])
    )


def _pair(i: int, pair: object) -> tuple[Fraction, Fraction]:
    if not isinstance(pair, tuple | list) or len(pair) != 2:
        raise RatingError(f"part {i} is {pair!r}: give a pair (dc, mttfd in years)")
    coverage = share(f"dc of part {i}", pair[0], _NEED)
    return as_written(coverage), as_written(positive(f"mttfd of part {i}", pair[1], "years, above 0"))


def dc_class(dc: float) -> str:
    """'none' below 0.60, 'low' from 0.60, 'medium' from 0.90, 'high' from 0.99 on (a border is above).

    Source: ISO 13849-1:2006 and 2015, Table 6 (4.5.3). The 5 % accuracy of borders is not used here.
    """
    coverage = share("dc", dc, _NEED)
    return next(name for name in reversed(DC_CLASSES) if coverage >= DC_FLOOR[name])


def dc_class_with_tolerance(dc: float) -> tuple[str, bool]:
    """The class with borders lowered by 5 % (57, 85.5, 94.05 %), and whether that changed it.

    The notes to Table 6 give the borders an accuracy of 5 %, without an example of its use; whoever uses
    it must say so, thus the second value. Never for PFHd bands. Source: ISO 13849-1:2006, Table 6, note 2.
    """
    coverage = as_written(share("dc", dc, _NEED))
    lowered = {name: as_written(floor) * (1 - _BORDER_ACCURACY) for name, floor in DC_FLOOR.items()}
    found = next(name for name in reversed(DC_CLASSES) if coverage >= lowered[name])
    return found, found != dc_class(dc)
