"""The closed forms of dx/dt = -(a + k x): a shaft that coasts, a capacitor that empties.

a > 0 is what does not depend on x (Coulomb friction over inertia), k what grows with it (viscous friction over
inertia, or 1/RC). x and its level in any one unit, time in seconds. Source: elementary integration.
"""

from math import inf, log1p

import numpy as np
from numpy.typing import NDArray

__all__ = ["decayed", "gradient", "time_between"]

Floats = NDArray[np.float64]
_SMALL = 1e-4  # below this k·t the series is the more exact form


def decayed(start: float, a: float, k: float, t: Floats) -> Floats:
    """x at each instant t >= 0, from `start` at 0; not stopped at zero; [n] for t [n]."""
    return start * np.exp(-k * t) - a * _eased(k, t)


def gradient(start: float, a: float, k: float, t: Floats) -> Floats:
    """The derivatives of `decayed` by start, a and k; [n, 3] for t [n]."""
    shrunk, eased = np.exp(-k * t), _eased(k, t)
    return np.stack([shrunk, -eased, -start * t * shrunk - a * _eased_by_k(k, t, shrunk, eased)], axis=-1)


def time_between(a: float, k: float, high: float, low: float) -> float:
    """Seconds from `high` down to `low`, high >= low >= 0; inf if the decay never gets there.

    (1/k) ln((a + k high)/(a + k low)), for k = 0 (high - low)/a.
    """
    at_low, at_high = a + k * low, a + k * high
    if high <= low:
        return 0.0
    if at_low <= 0 or at_high <= 0:
        return inf
    ratio = k * (high - low) / at_low
    return (high - low) / at_low * (1.0 if ratio == 0 else log1p(ratio) / ratio)


def _eased(k: float, t: Floats) -> Floats:
    """(1 - exp(-k t))/k, t for k = 0 (and for a k so small that a double no longer holds all its digits)."""
    if abs(k) < np.finfo(np.float64).tiny / np.finfo(np.float64).eps:
        return t
    return -np.expm1(-k * t) / k


def _eased_by_k(k: float, t: Floats, shrunk: Floats, eased: Floats) -> Floats:
    series = -t * t / 2 + k * t**3 / 3 - k * k * t**4 / 8
    if k == 0:
        return series
    return np.where(np.abs(k * t) < _SMALL, series, (t * shrunk - eased) / k)
