"""Made records with a known truth: shafts that coast and buses that empty, sampled with noise of many kinds.

The truth is integrated or computed here by formulas of its own, not by the code under test.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.integrate import solve_ivp
from scipy.signal import lfilter


@dataclass(frozen=True)
class Noise:
    """Steady normal noise, its memory from sample to sample, dropped samples and a step of resolution."""

    sigma: float
    memory: float = 0.0
    dropped: float = 0.0  # share of samples that read 0
    step: float = 0.0

    def on(self, truth, random):
        """Readings of `truth`."""
        white = random.normal(size=len(truth))
        if self.memory:
            white = lfilter([np.sqrt(1 - self.memory**2)], [1, -self.memory], white)
        shown = truth + self.sigma * white
        if self.step:
            shown = np.round(shown / self.step) * self.step
        if self.dropped:
            shown[random.random(len(truth)) < self.dropped] = 0.0
        return shown


@dataclass(frozen=True)
class Shaft:
    """Inertia kg·m², Coulomb torque N·m, viscous N·m·s/rad, windage N·m·s²/rad²; speeds in rad/s."""

    inertia: float = 0.045
    coulomb: float = 0.35
    viscous: float = 0.0012
    windage: float = 0.0

    def speed(self, start: float, seconds):
        """Speed at each instant, at rest once it has stopped; by the closed form, or by an integrator."""
        if self.windage == 0 and self.viscous > 0:
            level = self.coulomb / self.viscous
            return np.maximum(0.0, (start + level) * np.exp(-self.viscous / self.inertia * seconds) - level)
        if self.windage == 0:
            return np.maximum(0.0, start - self.coulomb / self.inertia * seconds)
        return np.maximum(0.0, self._integrated(start, float(seconds[-1])).sol(seconds)[0])

    def time(self, high: float, low: float) -> float:
        """Seconds from one speed to a lower one, by integration of the equation of motion."""

        def reached(_, w):
            return w[0] - low

        reached.terminal, reached.direction = True, -1
        found = solve_ivp(self._slowing, (0, 1e4), [high], rtol=1e-11, atol=1e-11, events=reached)
        return float(found.t_events[0][0])

    def _integrated(self, start: float, until: float):
        return solve_ivp(self._slowing, (0, until), [start], rtol=1e-9, atol=1e-9, dense_output=True)

    def _slowing(self, t, w):
        drag = self.coulomb + self.viscous * abs(w[0]) + self.windage * w[0] ** 2
        return [-drag / self.inertia * (1.0 if w[0] > 0 else 0.0)]


def seconds(until: float, period: float):
    """Instants of sampling from 0 on."""
    return np.arange(0.0, until, period)


def as_ns(instants):
    """Seconds as integer nanoseconds."""
    return np.round(np.asarray(instants) * 1e9).astype(np.int64)


def coast_record(shaft: Shaft, start: float, noise: Noise, random, *, period=0.1, until=None):
    """Stamps and speeds of one coast-down."""
    instants = seconds(shaft.time(start, 0.5) + 2.0 if until is None else until, period)
    return as_ns(instants), noise.on(shaft.speed(start, instants), random)


def fall_record(tau: float, start: float, noise: Noise, random, *, period=0.05, until=None):
    """Stamps and volts of one discharge."""
    instants = seconds(5 * tau if until is None else until, period)
    return as_ns(instants), noise.on(start * np.exp(-instants / tau), random)


QUIET = Noise(0.0)
NOISY = Noise(0.5)
SHAFT = Shaft()
DRY = replace(SHAFT, viscous=0.0)
