"""The decision rule for a measured value and an upper limit, stated before the data are seen.

Accepted up to limit - w, with w = r · U: r 0 is simple acceptance, r 1 a guard band of the expanded uncertainty
U = k · u. Symbols: x measured, u its standard uncertainty, errors normal. Source: JCGM 106:2012, clauses 7 to 9
(ISO/IEC Guide 98-4); non-binary statement with guard band, ILAC-G8:09/2019 (clauses from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt
from statistics import NormalDist
from typing import Final

from scipy.integrate import quad

from interlock.timing.inputs import TimingError, at_least_zero, finite_number, positive
from interlock.verdict import Verdict

__all__ = [
    "GUARDED",
    "SIMPLE",
    "Prior",
    "Rule",
    "Ruling",
    "Statement",
    "decide",
    "false_acceptance",
    "largest_false_acceptance",
    "overall_risks",
]

_NORMAL: Final = NormalDist()
Density = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Rule:
    """Accept up to limit - guard · U, U = coverage · u; reject surely above limit + guard · U."""

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
GUARDED: Final = Rule("guard band w = U", guard=1.0)


@dataclass(frozen=True, slots=True)
class Statement:
    """A rule, the limit it is for, and when it was stated (ns since 1970 UTC)."""

    rule: Rule
    limit: float
    stated_ns: int


@dataclass(frozen=True, slots=True)
class Prior:
    """What was known of the true value before it was measured: normal, e.g. from earlier tests of this bench."""

    mean: float
    deviation: float

    def __post_init__(self) -> None:
        finite_number("mean", self.mean)
        positive("deviation", self.deviation)


@dataclass(frozen=True, slots=True)
class Ruling:
    """The verdict, the limit of acceptance it was measured by, and the risk that a pass would carry."""

    verdict: Verdict
    acceptance_limit: float
    false_acceptance: float  # probability that the true value is above the limit, given this measured value
    sentence: str


def decide(
    statement: Statement, measured: float, uncertainty: float, measured_ns: int, prior: Prior | None = None
) -> Ruling:
    """Pass up to limit - w, fail above limit + w, between them inconclusive.

    `uncertainty`: standard uncertainty u. Raises TimingError if the rule was stated after the value was measured
    (both ns since 1970 UTC): a rule chosen with the data in view is none.
    """
    if statement.stated_ns > measured_ns:
        raise TimingError("the decision rule was stated after the measurement: state it first, then measure")
    value, w = finite_number("measured", measured), statement.rule.band(uncertainty)
    verdict = Verdict.INCONCLUSIVE
    if value <= statement.limit - w:
        verdict = Verdict.PASS
    elif value > statement.limit + w:
        verdict = Verdict.FAIL
    risk = false_acceptance(value, uncertainty, statement.limit, prior)
    text = (
        f"Rule: {statement.rule.name}, accepted up to {statement.limit - w:.6g}; measured {value:.6g};"
        f" the true value is above the limit {statement.limit:g} with probability {risk:.2g}."
    )
    return Ruling(verdict, statement.limit - w, risk, text)


def false_acceptance(measured: float, uncertainty: float, limit: float, prior: Prior | None = None) -> float:
    """P(true value > limit | this measured value): the specific consumer's risk if it is accepted.

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
