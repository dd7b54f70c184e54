"""How far repeated measurements reach: one-sided tolerance bounds, normal and without a distribution."""

from collections.abc import Iterable
from decimal import ROUND_CEILING, Decimal, localcontext
from math import isfinite, sqrt
from numbers import Integral, Real
from statistics import NormalDist, fmean, stdev

from scipy.stats import nct

from interlock.errors import RatingError

__all__ = ["samples_needed", "tolerance_factor", "upper_tolerance_bound"]


def tolerance_factor(n: int, proportion: float, confidence: float) -> float:
    """k such that mean + k · s of n normal values lies above `proportion` of all values, with `confidence`.

    One-sided; s with n - 1. k = t'(confidence; n-1, z_p √n) / √n, t' the quantile of the noncentral t.
    Source: ISO 16269-6, normal distribution, one-sided, unknown spread (clause from memory).
    """
    if isinstance(n, bool) or not isinstance(n, Integral) or n < 2:
        raise RatingError(f"n is {n!r}: a spread needs a whole number of values, at least 2")
    shift = NormalDist().inv_cdf(_open_fraction("proportion", proportion)) * sqrt(n)
    factor = float(nct.ppf(_open_fraction("confidence", confidence), n - 1, shift)) / sqrt(n)
    if not isfinite(factor):
        raise RatingError(f"no factor found for n {n}, proportion {proportion!r}, confidence {confidence!r}")
    return factor


def samples_needed(proportion: float, confidence: float) -> int:
    """How many values until the largest lies above `proportion` of all with `confidence`, whatever their spread.

    The least n with 1 - proportion^n >= confidence. Source: ISO 16269-6, distribution-free (from memory).
    """
    with localcontext() as context:
        context.prec = 60
        part = Decimal(repr(_open_fraction("proportion", proportion)))
        missed = 1 - Decimal(repr(_open_fraction("confidence", confidence)))
        exact = missed.ln() / part.ln()
        whole = exact.to_integral_value()
        near = abs(exact - whole) < Decimal("1e-40") * max(
            whole, Decimal(1)
        )  # an integer, but for the logarithm
        return max(1, int(whole if near else exact.to_integral_value(rounding=ROUND_CEILING)))


def upper_tolerance_bound(values: Iterable[float], proportion: float, confidence: float) -> float:
    """mean + k · s: with `confidence`, `proportion` of all such values lie below it, if they are normal.

    In the unit of the values; at least two of them. No value is ever left out as an outlier. If a normal spread
    is not certain, use the largest of `samples_needed` values instead.
    """
    found = [_finite(i, value) for i, value in enumerate(values, 1)]
    factor = tolerance_factor(len(found), proportion, confidence)
    return fmean(found) + factor * stdev(found)


def _open_fraction(what: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not 0 < float(value) < 1:
        raise RatingError(f"{what} is {value!r}: give a fraction above 0 and below 1 (95 % is 0.95)")
    return float(value)


def _finite(i: int, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, Real) or not isfinite(float(value)):
        raise RatingError(f"value {i} is {value!r}: every repetition needs a finite number")
    return float(value)
