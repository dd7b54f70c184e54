"""The decision rule for a measured value and an upper limit, stated before the data are seen.

Accepted up to limit - w, with w = r · U: r 0 is simple acceptance, r 1 a guard band of the expanded uncertainty
U = k · u. Source: JCGM 106:2012, clauses 7 to 9 (ISO/IEC Guide 98-4); u of a bounded error: JCGM 100:2008, 4.3.7
(clauses from memory). No rule makes a pass of a value whose interval is not wholly within the limit (see
`interlock.timing.decision`); it can only ask for more.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import exp, hypot, pi, sqrt
from statistics import NormalDist
from typing import Final

from scipy.integrate import quad

from interlock.interval import Interval
from interlock.timing.inputs import at_least_zero, finite_number, positive

__all__ = [
    "GUARDED",
    "SIMPLE",
    "Measured",
    "Prior",
    "Rule",
    "accepts",
    "false_acceptance",
    "largest_false_acceptance",
    "overall_risks",
]

_NORMAL: Final = NormalDist()
Density = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Rule:
    """Accept up to limit - guard · U, U = coverage · u."""

    name: str
    guard: float  # r: the guard band in expanded uncertainties
    coverage: float = 2.0  # k

    def __post_init__(self) -> None:
        at_least_zero("guard", self.guard, "give the guard band in expanded uncertainties, 0 or more")
        positive("coverage", self.coverage, "give the coverage factor, usually 2")

    def band(self, uncertainty: float) -> float:
        """The guard band w in the unit of the standard uncertainty."""
        return self.guard * self.coverage * at_least_zero("uncertainty", uncertainty)


SIMPLE: Final = Rule("simple acceptance", guard=0.0)
GUARDED: Final = Rule("guard band", guard=1.0)


@dataclass(frozen=True, slots=True)
class Measured:
    """A value that is off by at most `half`, any error within it equally probable, and by a normal error besides."""

    value: float
    half: float = 0.0
    deviation: float = 0.0  # standard deviation of the normal error

    def __post_init__(self) -> None:
        finite_number("value", self.value)
        at_least_zero("half", self.half)
        at_least_zero("deviation", self.deviation)

    @classmethod
    def bounded(cls, span: Interval, chain_ns: int = 0) -> "Measured | None":
        """An interval that holds the time, and the expanded uncertainty (95 %) of the measuring chain; ns.

        None without an upper bound: then no value is known.
        """
        if span.hi is None:
            return None
        return cls((span.lo + span.hi) / 2, (span.hi - span.lo) / 2, chain_ns / 2)

    @classmethod
    def banded(cls, band: Interval) -> "Measured | None":
        """The middle of a 95 % band, whose half width is the expanded uncertainty; ns."""
        return None if band.hi is None else cls((band.lo + band.hi) / 2, 0.0, (band.hi - band.lo) / 4)

    @property
    def uncertainty(self) -> float:
        """The combined standard uncertainty u (JCGM 100:2008, 4.3.7 and 5.1.2)."""
        return hypot(self.half / sqrt(3), self.deviation)

    def above(self, limit: float) -> float:
        """P(true value > limit): the specific consumer's risk if the value is accepted (JCGM 106:2012, 9.3.2)."""
        far, u = self.value - finite_number("limit", limit), self.deviation
        if self.half == 0:
            return false_acceptance(self.value, u, limit)
        if u < 1e-9 * self.half:
            return min(1.0, max(0.0, (far + self.half) / (2 * self.half)))
        return min(
            1.0, (_summed((far + self.half) / u) - _summed((far - self.half) / u)) * u / (2 * self.half)
        )


def _summed(z: float) -> float:
    """The integral of the normal distribution function up to z."""
    return z * _NORMAL.cdf(z) + exp(-z * z / 2) / sqrt(2 * pi)


@dataclass(frozen=True, slots=True)
class Prior:
    """What was known of the true value before it was measured: normal, e.g. from earlier tests of this bench."""

    mean: float
    deviation: float

    def __post_init__(self) -> None:
        finite_number("mean", self.mean)
        positive("deviation", self.deviation)


def accepts(rule: Rule, measured: Measured, limit: float) -> bool:
    """Whether the value is at or below limit - w (JCGM 106:2012, 8.3.1: simple acceptance, and 8.3.2: guard band)."""
    return measured.value <= finite_number("limit", limit) - rule.band(measured.uncertainty)


def false_acceptance(measured: float, uncertainty: float, limit: float, prior: Prior | None = None) -> float:
    """P(true value > limit | this measured value), errors normal: the specific consumer's risk if it is accepted.

    Without a prior Φ((x - limit)/u); with a normal prior the mean of both, weighed by 1/u² (JCGM 106:2012, 6.2
    and 7.3, from memory). With u = 0 it is 0 or 1.
    """
    u = at_least_zero("uncertainty", uncertainty)
    if u == 0:
        return float(measured > limit)
    if prior is None:
        return _NORMAL.cdf((measured - limit) / u)
    weight = prior.deviation**2 / (prior.deviation**2 + u**2)
    mean = weight * measured + (1 - weight) * prior.mean
    return _NORMAL.cdf((mean - limit) / (sqrt(weight) * u))


def largest_false_acceptance(rule: Rule) -> float:
    """P(true value > limit) for a value right at the acceptance limit, without a prior: the worst accepted one.

    Simple acceptance 50 %, w = 1.645 u 5 %, w = U = 2 u 2.28 %.
    """
    return _NORMAL.cdf(-rule.guard * rule.coverage)


def overall_risks(rule: Rule, uncertainty: float, limit: float, prior: Prior) -> tuple[float, float]:
    """Before anything is measured: P(accepted and above the limit) and P(not accepted and within it).

    The global consumer's and producer's risk for a normal prior, by integration over the true value; not accepted
    means no pass. Source: JCGM 106:2012, 9.5 (clause from memory).
    """
    accepted_to, u = limit - rule.band(uncertainty), positive("uncertainty", uncertainty)
    known = NormalDist(prior.mean, prior.deviation)

    def accepted(true: float) -> float:
        return known.pdf(true) * _NORMAL.cdf((accepted_to - true) / u)

    def refused(true: float) -> float:
        return known.pdf(true) * _NORMAL.cdf((true - accepted_to) / u)

    return _integral(accepted, limit, known, u, upwards=True), _integral(
        refused, limit, known, u, upwards=False
    )


def _integral(density: Density, limit: float, known: NormalDist, u: float, *, upwards: bool) -> float:
    """Of the density from the limit on, in pieces no longer than either spread."""
    far = 12 * known.stdev
    low, high = (limit, max(limit, known.mean + far)) if upwards else (min(limit, known.mean - far), limit)
    marks = [known.mean + i * known.stdev for i in range(-8, 9)] + [limit + i * u for i in range(-12, 13)]
    inside = sorted({low, high, *(mark for mark in marks if low < mark < high)})
    return sum(float(quad(density, a, b)[0]) for a, b in pairwise(inside))
