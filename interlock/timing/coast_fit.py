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
from interlock.timing.coast_errors import EXACT, Stated, resolution, widest
from interlock.timing.decay import decayed, gradient
from interlock.timing.falling import Falling, falling
from interlock.timing.inputs import NotIdentified, fraction

__all__ = ["CoastFit", "Departs", "Region", "fit_coast"]

Floats = NDArray[np.float64]
_ABSURD: Final = 50.0  # b/J times the length of the record
_BORDER: Final = 65  # points; the band is then right to a few parts in ten thousand of its width
_ALIKE: Final = "Coulomb and viscous friction cannot be told apart in this record"
_DOES_NOT_FIT: Final = 0.01  # a record that fits is refused this often at most
_WANDERS: Final = 0.1  # residuals that follow each other more than so improbably are taken to do so


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


@dataclass(frozen=True, slots=True)
class Departs:
    """The block that lies furthest beyond, or least within, what the stated errors allow; rad/s."""

    by: float
    allowed: float

    @property
    def explained(self) -> bool:
        """Whether the stated errors alone may have made it."""
        return self.by <= self.allowed


@dataclass(frozen=True, eq=False)
class CoastFit:
    """The fitted shaft, in units of the record's own spans."""

    used: Falling
    values: Floats  # [3] start, Tc/J, b/J, over the spans
    covariance: Floats  # [3, 3] of `values`, memory of the noise included
    memory: Memory
    step: float  # rad/s, of the sensor's resolution, or less
    stated: Stated = EXACT

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
        """False if neither Coulomb and viscous friction nor the stated errors explain what the record holds."""
        return self.memory.p_value >= _DOES_NOT_FIT or self.departs.explained

    @property
    def wanders(self) -> bool:
        """Whether the record bends about the fit, but no further than the stated errors of its samples."""
        return self.memory.p_value < _WANDERS and self.departs.explained

    @cached_property
    def departs(self) -> "Departs":
        """How far means of blocks lie from the fit, and how far the stated errors let them."""
        blocks = self.used.blocks
        away = np.abs(blocks.residuals(lambda t: self._fitted(decayed, t)) * blocks.weights)
        bounds = self.stated.bound(self._slowing, self.step)
        worst = int(np.argmax(away * self.used.top - bounds))
        return Departs(float(away[worst]) * self.used.top, float(bounds[worst]))

    def stated_spread(self, time: Callable[[float, float], float]) -> float:
        """Standard deviation of `time(Tc/J, b/J)` by the stated errors, with the memory that spreads it most."""
        blocks, scale = self.used.blocks, self.used.top / self.used.seconds
        shapes = blocks.weighed(self._fitted(gradient, blocks.seconds))

        def slope(place: int) -> float:
            step = np.zeros(3)
            step[place] = 1e-6
            ends = (self.values - step, self.values + step)
            low, high = (time(p[1] * scale, p[2] / self.used.seconds) for p in ends)
            return (high - low) / 2e-6

        slopes = np.array([0.0, slope(1), slope(2)])
        weights = (slopes @ _inverse(shapes) @ shapes.T) / blocks.weights / self.used.top
        return widest(weights, self.stated.deviation(self._slowing, self.step), blocks)

    def _fitted(self, form: Callable[[float, float, float, Floats], Floats], seconds: Floats) -> Floats:
        return form(float(self.values[0]), float(self.values[1]), float(self.values[2]), seconds)

    @property
    def _slowing(self) -> Floats:
        """rad/s² in the middle of each block."""
        blocks = self.used.blocks
        shown = blocks.weighed(blocks.values) * blocks.weights * self.used.top
        return np.asarray(self.coulomb + self.viscous * shown, dtype=np.float64)

    def region(self, confidence: float = 0.95) -> "Region":
        """The border of all frictions that the record does not exclude, the stated errors apart where it wanders.

        A profile of the likelihood: a time read from it misses each end with half of 1 - confidence.
        Source: Bates and Watts, profiles of a nonlinear least squares fit (from memory).
        """
        room = student.ppf((1 + fraction("confidence", confidence)) / 2, self.freedom) ** 2 / self.freedom
        limit = self._least * (1 + room * (1.0 if self.wanders else self.memory.inflation))
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


def fit_coast(times_ns: ArrayLike, speeds: ArrayLike, *, floor: float, stated: Stated = EXACT) -> CoastFit:
    """Start, Tc/J and b/J that explain a record best, with their covariance.

    `times_ns` int[n], `speeds` [n] in rad/s, both of the coast-down alone (torque off from the first sample on);
    used from the first sample until the median of nine falls to `floor`, since friction changes near standstill.
    A turn backwards is read as forwards. `stated`: bounds of the samples' errors, for records that wander within
    them. Raises NotIdentified if the record does not determine the friction.
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
    covariance = _inverse(found.jac) * variance
    return CoastFit(used, found.x, covariance, shared, resolution(shown), stated)


def _inverse(shapes: Floats) -> Floats:
    """(XᵀX)⁻¹, with a diagonal above 0: rounding may take it below where the columns are nearly alike."""
    try:
        found = np.asarray(np.linalg.inv(shapes.T @ shapes), dtype=np.float64)
    except np.linalg.LinAlgError:
        raise NotIdentified(_ALIKE) from None
    if not (np.isfinite(found).all() and (np.diag(found) > 0).all()):
        raise NotIdentified(_ALIKE)
    return found
