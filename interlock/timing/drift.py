"""Is the bench getting slower? Repeated stops of this proof test against those of an earlier one.

No drift shown is not the same as no drift: `largest` says how much slower it may have become all the same.
Sources: Welch 1947; Mann and Whitney 1947; Hedges 1981 (all from memory).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import mannwhitneyu
from scipy.stats import t as student

from interlock.timing.inputs import NotIdentified, at_least_zero, finite_number, fraction, readings
from interlock.verdict import Verdict

__all__ = ["Direction", "Drift", "drift", "judge_drift"]

Floats = NDArray[np.float64]


class Direction(StrEnum):
    """What the two series show."""

    SLOWER = "slower"
    FASTER = "faster"
    NOT_SHOWN = "no drift shown"


@dataclass(frozen=True, slots=True)
class Drift:
    """The later series against the earlier one, in the unit of the values (times: more is slower)."""

    direction: Direction
    difference: float  # mean of the later minus mean of the earlier
    least: float  # lower end of the confidence interval of the difference
    largest: float  # its upper end: a drift up to here is not excluded
    effect: float  # Hedges' g: the difference in spreads of one stop; inf if nothing spreads
    welch_p: float  # one-sided: so large a rise, if there were none
    ranks_p: float  # the same by Mann and Whitney's ranks, which suppose no distribution
    confidence: float


def drift(
    earlier: Iterable[float], later: Iterable[float], *, confidence: float = 0.95, steady: float = 0.0
) -> Drift:
    """Difference with its confidence interval, effect size and two one-sided tests; no value is left out.

    At least two finite values each. Slower (faster) if either test has p < (1 - confidence)/2 on its side.
    `steady`: bound of what the two tests may differ by for reasons of measurement; it widens the interval, and a
    difference within it shows nothing. Raises NotIdentified if neither test has any spread and `steady` is 0.
    """
    old, new = readings("earlier value", earlier, 2), readings("later value", later, 2)
    level = 1 - fraction("confidence", confidence)
    room = at_least_zero("steady", steady, "give the bound of the steady difference, 0 or more")
    difference, error, freedom = _welch(old, new)
    if error == 0 == room:
        raise NotIdentified("no value differs from the others of its test: give the resolution as `steady`")
    half = room + (float(student.ppf(1 - level / 2, freedom)) * error if error > 0 else 0.0)
    slower, faster = _one_sided(old + room, new), _one_sided(new + room, old)
    direction = Direction.NOT_SHOWN
    if min(slower) < level / 2:
        direction = Direction.SLOWER
    elif min(faster) < level / 2:
        direction = Direction.FASTER
    effect = _hedges(old, new)
    return Drift(direction, difference, difference - half, difference + half, effect, *slower, confidence)


def judge_drift(found: Drift, allowed: float) -> Verdict:
    """Pass only if a drift above `allowed` is excluded, fail if it is sure, else inconclusive."""
    bound = finite_number("allowed", allowed, "give the largest drift allowed, in the unit of the values")
    if found.largest <= bound:
        return Verdict.PASS
    return Verdict.FAIL if found.least > bound else Verdict.INCONCLUSIVE


def _welch(old: Floats, new: Floats) -> tuple[float, float, float]:
    """Difference of means, its standard error, and Welch and Satterthwaite's degrees of freedom."""
    parts = float(old.var(ddof=1)) / len(old), float(new.var(ddof=1)) / len(new)
    difference = float(new.mean() - old.mean())
    if sum(parts) == 0:
        return difference, 0.0, float(len(old) + len(new) - 2)
    weights = parts[0] ** 2 / (len(old) - 1) + parts[1] ** 2 / (len(new) - 1)
    return difference, sqrt(sum(parts)), sum(parts) ** 2 / weights


def _one_sided(low: Floats, high: Floats) -> tuple[float, float]:
    """P of so large a rise from `low` to `high` if there is none: by Welch's t and by ranks."""
    difference, error, freedom = _welch(low, high)
    sure = 1.0 if difference <= 0 else 0.0
    welch = float(student.sf(difference / error, freedom)) if error > 0 else sure
    return welch, float(mannwhitneyu(high, low, alternative="greater").pvalue)


def _hedges(old: Floats, new: Floats) -> float:
    freedom = len(old) + len(new) - 2
    pooled = sqrt(
        ((len(old) - 1) * float(old.var(ddof=1)) + (len(new) - 1) * float(new.var(ddof=1))) / freedom
    )
    difference = float(new.mean() - old.mean())
    if pooled == 0:
        return 0.0 if difference == 0 else inf * (1 if difference > 0 else -1)
    return difference / pooled * (1 - 3 / (4 * freedom - 1))
