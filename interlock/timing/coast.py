"""Does the shaft stand still in time from the bench's greatest speed, though the test ran slower?

The prediction holds for the shaft, friction and direction that were recorded: one stop, at its temperature. It
says nothing of other stops; for those repeat the test. The uncertainty of the speed sensor's gain is not in the
band: raise the speed asked for by it. Predicting is no replacement for a test at the greatest speed.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import ceil, floor, hypot, inf, isfinite
from statistics import NormalDist
from typing import Final

from numpy.typing import ArrayLike
from scipy.stats import t as student

from interlock.interval import Interval
from interlock.timing.coast_errors import EXACT, Stated
from interlock.timing.coast_fit import CoastFit, fit_coast
from interlock.timing.decay import time_between
from interlock.timing.decision import judge
from interlock.timing.inputs import NotIdentified, TimingError, at_least_zero, fraction, positive
from interlock.verdict import Verdict

__all__ = ["Coast", "CoastAnswer", "CoastQuestion", "Estimate", "friction", "judge_coast", "predict"]

MOST_UNSEEN: Final = 0.5  # common practice, no source
_AT_ONCE: Final = Interval(0, 0)


@dataclass(frozen=True, slots=True)
class CoastQuestion:
    """Whether the shaft is at `standstill` within the limit, from the greatest speed at which it may be stopped."""

    greatest: float  # rad/s
    standstill: (
        float  # rad/s, the bound below which motion is harmless; 0 only where Coulomb friction is sure
    )
    limit_ns: int
    confidence: float = 0.95
    before: Interval = _AT_ONCE  # ns from the demand until the shaft coasts; counts against the limit

    def __post_init__(self) -> None:
        at_least_zero("standstill", self.standstill, "give the standstill bound, rad/s, 0 or more")
        if positive("greatest", self.greatest, "give the greatest speed, rad/s") <= self.standstill:
            raise TimingError(f"greatest is {self.greatest!r}: give a speed above the standstill bound")
        fraction("confidence", self.confidence)


@dataclass(frozen=True, slots=True)
class Coast:
    """Predicted time from one speed to another."""

    best: Interval  # the fitted shaft, widened to whole nanoseconds
    band: Interval  # holds the shaft's time with the stated confidence; hi None: it may never get there
    held: Interval  # the band if friction above the speeds tested grows no further
    unseen_above: float  # share of the time spent above the speeds of the record
    unseen_below: float  # share spent below them


@dataclass(frozen=True, slots=True)
class CoastAnswer:
    """The decision, the numbers behind it (None: the record does not determine them), and why."""

    verdict: Verdict
    coast: Coast | None
    fit: CoastFit | None
    sentence: str
    taken: Interval | None = None  # ns from the demand to standstill: what was judged; None: not determined
    why: str = field(default="", kw_only=True)  # why nothing is determined, or what the judgement rests on


@dataclass(frozen=True, slots=True)
class Estimate:
    """A figure and the band that holds it with the stated confidence."""

    value: float
    low: float
    high: float


def friction(
    fit: CoastFit, inertia: float, uncertainty: float = 0.0, confidence: float = 0.95
) -> tuple[Estimate, Estimate]:
    """Coulomb torque (N·m) and viscous friction (N·m·s/rad) of a shaft with this inertia (kg·m²).

    `uncertainty`: standard uncertainty of the inertia, kg·m². Bands by propagation of variances (JCGM 100, 5.1.2).
    """
    known = positive("inertia", inertia, "give the inertia of all that turns, kg·m²")
    spread = at_least_zero("uncertainty", uncertainty, "give the standard uncertainty of the inertia, kg·m²")
    factor = float(student.ppf((1 + fraction("confidence", confidence)) / 2, fit.freedom))
    pairs = zip((fit.coulomb, fit.viscous), fit.deviations[1:], strict=True)
    bands = [(rate, factor * hypot(known * deviation, rate * spread)) for rate, deviation in pairs]
    coulomb, viscous = (Estimate(known * r, known * r - half, known * r + half) for r, half in bands)
    return coulomb, viscous


def predict(
    fit: CoastFit, greatest: float, standstill: float, confidence: float = 0.95, offset: float = 0.0
) -> Coast:
    """The time from `greatest` to `standstill` (rad/s) for the fitted friction, with its confidence band.

    `offset`: bound of the steady error of the recorded speeds, rad/s (zero error, half a step of resolution). If the
    record wanders within its stated errors, these widen the band. Raises NotIdentified if the fitted shaft would
    never stop.
    """
    tested = min(greatest, max(fit.used.highest, standstill))
    below = max(standstill, min(fit.used.lowest, tested))

    def time(a: float, k: float) -> float:
        return time_between(a, k, greatest, standstill)

    def held(a: float, k: float) -> float:
        drag = a + k * tested
        above = (greatest - tested) / drag if drag > 0 else inf
        return time_between(a, k, tested, standstill) + (above if greatest > tested else 0.0)

    best = time(fit.coulomb, fit.viscous)
    if best == inf:
        raise NotIdentified("friction as fitted would never stop the shaft: record it down to a lower speed")
    region = fit.region(confidence)
    steady, factor = at_least_zero("offset", offset), NormalDist().inv_cdf((1 + confidence) / 2)

    def widened(one: Callable[[float, float], float]) -> Interval:
        low, high = region.band(one, steady)
        if not fit.wanders:
            return _outwards(low, high)
        middle, more = one(fit.coulomb, fit.viscous), factor * fit.stated_spread(one)
        if not isfinite(more):
            return Interval(0, None)
        return _outwards(max(0.0, middle - hypot(middle - low, more)), middle + hypot(high - middle, more))

    band, flat = widened(time), widened(held)
    return Coast(
        best=_outwards(best, best),
        band=band,
        held=band.hull(flat),
        unseen_above=time_between(fit.coulomb, fit.viscous, greatest, tested) / best,
        unseen_below=time_between(fit.coulomb, fit.viscous, below, standstill) / best,
    )


def judge_coast(
    times_ns: ArrayLike,
    speeds: ArrayLike,
    question: CoastQuestion,
    *,
    floor: float,
    offset: float = 0.0,
    stated: Stated = EXACT,
    most_unseen: float = MOST_UNSEEN,
) -> CoastAnswer:
    """Pass only if the record fits and the whole band is within the limit, else fail or inconclusive.

    Arguments as for `fit_coast` and `predict`. If more than `most_unseen` of the predicted time is spent at
    speeds that the record does not hold, the line of friction may not be drawn on: then the limit must hold even
    if friction grows no further above them.
    """
    fraction("most_unseen", most_unseen)
    fit: CoastFit | None = None
    try:
        fit = fit_coast(times_ns, speeds, floor=floor, stated=stated)
        _refuse_misfit(fit)
        coast = predict(fit, question.greatest, question.standstill, question.confidence, offset)
    except NotIdentified as unknown:
        said = f"The time to standstill is not known: {unknown}."
        return CoastAnswer(Verdict.INCONCLUSIVE, None, fit, said, why=str(unknown))
    taken, why = _judged(coast, question.before, most_unseen)
    verdict = Verdict.INCONCLUSIVE if taken is None else judge(taken, question.limit_ns)
    said = f"{_told(coast, question)} {why}{'.' if why else ''}".rstrip()
    return CoastAnswer(verdict, coast, fit, said, taken, why=why)


def _refuse_misfit(fit: CoastFit) -> None:
    if not fit.fits:
        chance = f"p = {fit.memory.p_value:.1g}"
        raise NotIdentified(f"Coulomb and viscous friction do not explain the record ({chance})")


def _judged(coast: Coast, before: Interval, most_unseen: float) -> tuple[Interval | None, str]:
    """What is held against the limit (None: too little was recorded), and why not the band itself."""
    if coast.unseen_below > most_unseen:
        return None, f"{coast.unseen_below:.0%} of that time lies below the speeds recorded"
    if coast.unseen_above + coast.unseen_below > most_unseen:
        far = f"{coast.unseen_above + coast.unseen_below:.0%} of that time lies outside the speeds recorded"
        return coast.held.shift(before), far
    return coast.band.shift(before), ""


def _told(coast: Coast, question: CoastQuestion) -> str:
    low, high = coast.band.lo / 1e9, coast.band.hi
    until = "no known bound" if high is None else f"{high / 1e9:.4g} s"
    return (
        f"From {question.greatest:.4g} to {question.standstill:.4g} rad/s the recorded shaft takes {low:.4g} s to"
        f" {until} ({question.confidence:.0%} band); {question.limit_ns / 1e9:.4g} s are allowed."
    )


def _outwards(low_s: float, high_s: float) -> Interval:
    """Seconds as whole nanoseconds, rounded outwards."""
    return Interval(floor(low_s * 1e9), None if high_s == inf else ceil(high_s * 1e9))
