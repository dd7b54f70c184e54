"""Friction from a record of a shaft that coasts: J dω/dt = -(Tc + b ω), fitted to noisy samples of its speed.

A record of speed alone determines Tc/J and b/J; torques need the inertia from elsewhere. Speeds in rad/s.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, least_squares
from scipy.stats import t as student

from interlock.timing.blocks import Memory, memory
from interlock.timing.decay import decayed, gradient
from interlock.timing.falling import Falling, falling
from interlock.timing.inputs import NotIdentified, fraction

__all__ = ["CoastFit", "Region", "fit_coast"]

Floats = NDArray[np.float64]
_ABSURD: Final = 50.0  # b/J times the length of the record
_BORDER: Final = 65  # points; the band is then right to a few parts in ten thousand of its width
_ALIKE: Final = "Coulomb and viscous friction cannot be told apart in this record"
_DOES_NOT_FIT: Final = 0.01  # a record that fits is refused this often at most


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """Frictions on the border of what a record does not exclude: for each b/J the greatest and least Tc/J."""

    viscous: Floats  # [m] 1/s
    most: Floats  # [m] rad/s²
    least: Floats  # [m] rad/s²

    def band(self, time: Callable[[float, float], float], offset: float = 0.0) -> tuple[float, float]:
        """Least and greatest `time(Tc/J, b/J)` of the region; inf if a shaft in it never gets there.

        `time` must fall with Tc/J. `offset`: the speeds of the record may all be off by this much, rad/s.
        """
        shift = offset * np.abs(self.viscous)
        quick = [time(a, k) for a, k in zip((self.most + shift).tolist(), self.viscous.tolist(), strict=True)]
        slow = [time(a, k) for a, k in zip((self.least - shift).tolist(), self.viscous.tolist(), strict=True)]
        return min(quick), max(slow)


@dataclass(frozen=True, eq=False)
class CoastFit:
    """The fitted shaft, in units of the record's own spans."""

    used: Falling
    values: Floats  # [3] start, Tc/J, b/J, over the spans
    covariance: Floats  # [3, 3] of `values`, memory of the noise included
    memory: Memory

    @property
    def start(self) -> float:
        """Speed at the first sample, rad/s."""
        return float(self.values[0]) * self.used.top

    @property
    def coulomb(self) -> float:
        """Tc/J in rad/s²: the deceleration that does not depend on speed."""
        return float(self.values[1]) * self.used.top / self.used.seconds

    @property
    def viscous(self) -> float:
        """b/J in 1/s: the deceleration per speed."""
        return float(self.values[2]) / self.used.seconds

    @property
    def deviations(self) -> tuple[float, float, float]:
        """Standard deviations of start (rad/s), Tc/J (rad/s²) and b/J (1/s)."""
        start, coulomb, viscous = np.sqrt(np.diag(self.covariance)).tolist()
        return start * self.used.top, coulomb * self.used.top / self.used.seconds, viscous / self.used.seconds

    @property
    def freedom(self) -> int:
        """Degrees of freedom of the spread."""
        return len(self.used.blocks.starts) - 3

    @property
    def fits(self) -> bool:
        """False if the record holds structure that Coulomb and viscous friction do not explain."""
        return self.memory.p_value >= _DOES_NOT_FIT

    def region(self, confidence: float = 0.95) -> "Region":
        """The border of all frictions that the record does not exclude.

        A profile of the likelihood: a time read from it misses each end with half of 1 - confidence.
        Source: Bates and Watts, profiles of a nonlinear least squares fit (from memory).
        """
        room = student.ppf((1 + fraction("confidence", confidence)) / 2, self.freedom) ** 2 / self.freedom
        limit = self._least * (1 + room * self.memory.inflation)
        rates = np.linspace(*self._reach(limit), _BORDER)
        given = np.array([self._given(float(k)) for k in rates])
        half = np.sqrt(np.maximum(0.0, given[:, 2] * (limit - given[:, 0])))
        scale = self.used.top / self.used.seconds
        return Region(rates / self.used.seconds, (given[:, 1] + half) * scale, (given[:, 1] - half) * scale)

    @cached_property
    def _least(self) -> float:
        return self._given(float(self.values[2]))[0]

    def _given(self, k: float) -> tuple[float, float, float]:
        """With b/J = k: sum of squares left, best Tc/J, and its variance for unit noise."""
        seconds = self.used.blocks.seconds
        columns = np.stack([decayed(1, 0, k, seconds), decayed(0, 1, k, seconds)], axis=1)
        shapes, shown = self.used.blocks.weighed(columns), self.used.blocks.weighed(self.used.blocks.values)
        inverse = _inverse(shapes)
        best = inverse @ (shapes.T @ shown)
        rest = shown - shapes @ best
        return float(rest @ rest), float(best[1]), float(inverse[1, 1])

    def _reach(self, limit: float) -> tuple[float, float]:
        """The least and greatest b/J that the record does not exclude."""
        best, step = float(self.values[2]), 3 * sqrt(self.covariance[2, 2]) + 1e-12
        return self._edge(best, -step, limit), self._edge(best, step, limit)

    def _edge(self, best: float, step: float, limit: float) -> float:
        while abs(best + step) < _ABSURD:
            if self._given(best + step)[0] > limit:
                return float(brentq(lambda k: self._given(k)[0] - limit, best, best + step))
            step *= 2
        raise NotIdentified("the record does not bound the friction: record a longer part of the coast-down")


def fit_coast(times_ns: ArrayLike, speeds: ArrayLike, *, floor: float) -> CoastFit:
    """Start, Tc/J and b/J that explain a record best, with their covariance.

    `times_ns` int[n], `speeds` [n] in rad/s, both of the coast-down alone (torque off from the first sample on);
    used from the first sample until the median of nine falls to `floor`, since friction changes near standstill.
    A turn backwards is read as forwards. Raises NotIdentified if the record does not determine the friction.
    """
    shown = np.asarray(speeds, dtype=np.float64)
    backwards = shown.size > 0 and float(np.median(shown)) < 0
    used = falling(times_ns, -shown if backwards else shown, floor)
    blocks = used.blocks
    slope, start = np.polyfit(blocks.seconds, blocks.values, 1)
    found = least_squares(
        lambda p: blocks.residuals(lambda t: decayed(p[0], p[1], p[2], t)),
        [start, -slope, 0.0],
        jac=lambda p: blocks.weighed(gradient(p[0], p[1], p[2], blocks.seconds)),
        method="lm",
    )
    shared = memory(found.fun, 3)
    variance = float(found.fun @ found.fun) / (len(found.fun) - 3) * shared.inflation
    return CoastFit(used, found.x, _inverse(found.jac) * variance, shared)


def _inverse(shapes: Floats) -> Floats:
    """(XᵀX)⁻¹, with a diagonal above 0: rounding may take it below where the columns are nearly alike."""
    try:
        found = np.asarray(np.linalg.inv(shapes.T @ shapes), dtype=np.float64)
    except np.linalg.LinAlgError:
        raise NotIdentified(_ALIKE) from None
    if not (np.isfinite(found).all() and (np.diag(found) > 0).all()):
        raise NotIdentified(_ALIKE)
    return found
