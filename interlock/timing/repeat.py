"""What repeated stops show: worst, mean, spread, and how far they bound the stops that were not made.

Each stop is an interval of nanoseconds that holds its true time. No stop is ever left out, whatever it looks like.
Sources: ISO 16269-6 (tolerance bounds; from memory), Shapiro and Wilk 1965, D'Agostino and Pearson 1973.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, sqrt
from typing import Final

import numpy as np
from scipy.optimize import brentq
from scipy.stats import nct, norm, normaltest, shapiro

from interlock.interval import Interval
from interlock.timing.inputs import TimingError, fraction, whole
from interlock.timing.statistics import samples_needed, tolerance_factor
from interlock.verdict import Verdict

__all__ = ["Basis", "Normality", "Repeats", "judge_repeats", "summarise", "worth"]

_REFUTED: Final = 0.05
_MOST_FOR_SHAPIRO: Final = 5000


class Basis(StrEnum):
    """How stops that were not made are bounded; to be stated before the data are seen."""

    NORMAL = "normal"  # mean + k · s
    LARGEST = "largest"  # the largest of enough stops, whatever their distribution


@dataclass(frozen=True, slots=True)
class Normality:
    """A test of the stops against a normal distribution; a high p-value does not prove that they are normal."""

    test: str
    statistic: float
    p_value: float

    @property
    def refuted(self) -> bool:
        """Whether a bound that supposes a normal distribution must not be used."""
        return self.p_value < _REFUTED


@dataclass(frozen=True, slots=True)
class Repeats:
    """Repeated stops in figures; a figure that holds an interval holds the true one whatever the stops were in it."""

    stops: tuple[Interval, ...]
    worst: Interval  # hi None: a stop is not shown to have ended
    mean: Interval
    spread: Interval  # s with n - 1, of the true times; lo 0 or more
    normality: Normality | None  # of the middles; None: fewer than 3 stops, all equal, or one without an end
    proportion: float
    confidence: float
    normal_bound_ns: int | None  # above `proportion` of all stops with `confidence`, if they are normal
    needed: int  # so many stops, until their largest is such a bound for any distribution


def summarise(stops: Iterable[Interval], proportion: float = 0.95, confidence: float = 0.95) -> Repeats:
    """Worst case, mean, spread, normality and bounds of one or more stops, in nanoseconds."""
    found = tuple(stops)
    if not found:
        raise TimingError("no stop is given: repeat the stop at least once")
    highs = [one.hi for one in found if one.hi is not None]
    whole_ = len(highs) == len(found)
    low, high = np.array([one.lo for one in found], dtype=np.float64), np.array(highs, dtype=np.float64)
    spread, middles = (_spread(low, high), (low + high) / 2) if whole_ else (Interval(0, None), None)
    needed = samples_needed(fraction("proportion", proportion), fraction("confidence", confidence))
    return Repeats(
        stops=found,
        worst=Interval(max(one.lo for one in found), max(highs) if whole_ else None),
        mean=_mean(found),
        spread=spread,
        normality=None if middles is None else _normality(middles),
        proportion=proportion,
        confidence=confidence,
        normal_bound_ns=_normal_bound(_mean(found), spread, len(found), proportion, confidence),
        needed=needed,
    )


def judge_repeats(repeats: Repeats, limit_ns: int, basis: Basis) -> tuple[Verdict, str]:
    """Fail if a stop surely took longer than the limit; pass if every one and the bound are within; and why."""
    if repeats.worst.lo > limit_ns:
        return Verdict.FAIL, "a stop took longer than the limit"
    if repeats.worst.hi is None or repeats.worst.hi > limit_ns:
        return Verdict.INCONCLUSIVE, "a stop may have taken longer than the limit"
    if reason := _bound_fails(repeats, limit_ns, basis):
        return Verdict.INCONCLUSIVE, reason
    share = f"{repeats.proportion:.3g} of all such stops, with confidence {repeats.confidence:.3g}"
    return Verdict.PASS, f"{len(repeats.stops)} stops bound {share}"


def worth(count: int, confidence: float = 0.95) -> str:
    """How much `count` stops say about all others: the largest of them covers (1 - confidence)^(1/n)."""
    n, missed = whole("count", count, 1), 1 - fraction("confidence", confidence)
    covered, of_95 = missed ** (1 / n), 1 - 0.95**n
    three = _covered_by(3.0, n, confidence) if n > 1 else 0.0
    needed = samples_needed(0.95, confidence), samples_needed(0.99, confidence)
    return (
        f"{n} stops: the largest lies above {covered:.1%} of all such stops with {confidence:.0%} confidence, and"
        f" above 95 % of them with {of_95:.1%}; mean + 3 s above {three:.1%} if they are normal. If nothing is"
        f" supposed of their distribution, {needed[0]} stops are needed for 95 %, {needed[1]} for 99 %."
    )


def _bound_fails(repeats: Repeats, limit_ns: int, basis: Basis) -> str | None:
    if basis is Basis.LARGEST:
        count = len(repeats.stops)
        said = "1 stop" if count == 1 else f"{count} stops"
        return None if count >= repeats.needed else f"{said}, but {repeats.needed} are needed for this bound"
    if repeats.normal_bound_ns is None or repeats.normality is None:
        return "too few or too equal stops for a normal bound"
    if repeats.normality.refuted:
        return f"the stops are not normal ({repeats.normality.test}, p = {repeats.normality.p_value:.2g})"
    if repeats.normal_bound_ns > limit_ns:
        return f"the bound of {repeats.normal_bound_ns} ns is above the limit"
    return None


def _mean(stops: tuple[Interval, ...]) -> Interval:
    low = sum(one.lo for one in stops) // len(stops)
    if any(one.hi is None for one in stops):
        return Interval(low, None)
    return Interval(low, -(-sum(one.hi or 0 for one in stops) // len(stops)))


def _spread(low: np.typing.NDArray[np.float64], high: np.typing.NDArray[np.float64]) -> Interval:
    """s of any true times within the intervals: that of the middles, plus or minus that of the half widths."""
    if len(low) < 2:
        return Interval(0, None)
    middle = float(np.std((low + high) / 2, ddof=1))
    half = sqrt(float(np.sum(((high - low) / 2) ** 2)) / (len(low) - 1))
    return Interval(max(0, int(middle - half)), ceil(middle + half))


def _normal_bound(
    mean: Interval, spread: Interval, n: int, proportion: float, confidence: float
) -> int | None:
    if mean.hi is None or spread.hi is None:
        return None
    return mean.hi + ceil(max(0.0, tolerance_factor(n, proportion, confidence)) * spread.hi)


def _normality(values: np.typing.NDArray[np.float64]) -> Normality | None:
    if len(values) < 3 or np.ptp(values) == 0:
        return None
    test, name = (
        (shapiro, "Shapiro-Wilk") if len(values) <= _MOST_FOR_SHAPIRO else (normaltest, "D'Agostino-Pearson")
    )
    found = test(values - values.mean())
    return Normality(name, float(found.statistic), float(found.pvalue))


def _covered_by(factor: float, n: int, confidence: float) -> float:
    """The share p for which `factor` is the one-sided tolerance factor of n values."""

    def excess(z: float) -> float:
        return float(nct.cdf(factor * sqrt(n), n - 1, z * sqrt(n))) - confidence

    return float(norm.cdf(brentq(excess, -8.0, 8.0)))
