"""Is the bench getting slower? Repeated stops of this proof test against those of an earlier one.

No drift shown is not the same as no drift: `largest` says how much slower it may have become all the same.
Source: Welch 1947 (from memory).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from interlock.timing.inputs import NotIdentified, at_least_zero, finite_number, fraction, readings
from interlock.verdict import Verdict

__all__ = ["Drift", "drift", "judge_drift"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Drift:
    """The later series against the earlier one, in the unit of the values (times: more is slower)."""

    difference: float  # mean of the later minus mean of the earlier
    least: float  # lower end of the confidence interval of the difference
    largest: float  # its upper end: a drift up to here is not excluded


def drift(
    earlier: Iterable[float], later: Iterable[float], *, confidence: float = 0.95, steady: float = 0.0
) -> Drift:
    """Difference of the means with its confidence interval; no value is left out.

    At least two finite values each. `steady`: bound of what the two tests may differ by for reasons of measurement; it
    widens the interval. Raises NotIdentified if neither test has any spread and `steady` is 0.
    """
    old, new = readings("earlier value", earlier, 2), readings("later value", later, 2)
    level = 1 - fraction("confidence", confidence)
    room = at_least_zero("steady", steady, "give the bound of the steady difference, 0 or more")
    difference, error, freedom = _welch(old, new)
    if error == 0 == room:
        raise NotIdentified("no value differs from the others of its test: give the resolution as `steady`")
    half = room + (float(student.ppf(1 - level / 2, freedom)) * error if error > 0 else 0.0)
    return Drift(difference, difference - half, difference + half)


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
