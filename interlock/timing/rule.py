"""The decision rule for a measured value and an upper limit, stated before the data are seen.

Accepted up to limit - w, with w = r · U: r 0 is simple acceptance, r 1 a guard band of the expanded uncertainty
U = k · u. Source: JCGM 106:2012, clauses 7 to 9 (ISO/IEC Guide 98-4); u of a bounded error: JCGM 100:2008, 4.3.7
(clauses from memory). No rule makes a pass of a value whose interval is not wholly within the limit (see
`interlock.timing.decision`); it can only ask for more.
"""

from dataclasses import dataclass
from math import exp, hypot, pi, sqrt
from statistics import NormalDist
from typing import Final

from interlock.interval import Interval
from interlock.timing.inputs import at_least_zero, finite_number, positive

__all__ = [
    "GUARDED",
    "SIMPLE",
    "Measured",
    "Rule",
    "accepts",
    "false_acceptance",
    "largest_false_acceptance",
]

_NORMAL: Final = NormalDist()


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


def accepts(rule: Rule, measured: Measured, limit: float) -> bool:
    """Whether the value is at or below limit - w (JCGM 106:2012, 8.3.1: simple acceptance, and 8.3.2: guard band)."""
    return measured.value <= finite_number("limit", limit) - rule.band(measured.uncertainty)


def false_acceptance(measured: float, uncertainty: float, limit: float) -> float:
    """P(true value > limit | this measured value), errors normal: the specific consumer's risk if it is accepted.

    Φ((x - limit)/u), without anything known before (JCGM 106:2012, 7.3, from memory). With u = 0 it is 0 or 1.
    """
    u = at_least_zero("uncertainty", uncertainty)
    return float(measured > limit) if u == 0 else _NORMAL.cdf((measured - limit) / u)


def largest_false_acceptance(rule: Rule) -> float:
    """P(true value > limit) for a value right at the acceptance limit, without a prior: the worst accepted one.

    Simple acceptance 50 %, w = 1.645 u 5 %, w = U = 2 u 2.28 %.
    """
    return _NORMAL.cdf(-rule.guard * rule.coverage)
