"""Is the bus at a harmless voltage in time, from the highest voltage it can have?

A bleeder of fixed resistance empties the bus exponentially; its time constant is read from a record. A record that
no one exponential explains (bleeder switched in two steps, load of constant power, a unit that still turns and
feeds the bus) is said to do so, and decides nothing: then measure from the highest voltage itself. The bus may be
live whatever this says: prove it dead with a meter before touching. Times count from switching off; a steady gain
error of the meter does not matter to the time constant, but add it to the highest voltage.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, exp, floor, log, sqrt
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq, least_squares
from scipy.stats import t as student

from interlock.interval import Interval
from interlock.timing.blocks import Memory, memory
from interlock.timing.decay import decayed
from interlock.timing.falling import Falling, falling
from interlock.timing.inputs import NotIdentified, TimingError, at_least_zero, fraction, positive, record

__all__ = ["Fall", "fit_fall", "unseen"]

Floats = NDArray[np.float64]
_DOES_NOT_FIT: Final = 0.01
_ABSURD: Final = 50.0  # rate times the length of the record
_SHARES: Final = (
    0.0,
    -1.0,
    1.0,
    -0.7,
    0.7,
    -0.4,
    0.4,
    -0.2,
    0.2,
)  # of the meter's steady error that are tried


@dataclass(frozen=True, slots=True)
class Fall:
    """The fitted time constant in seconds and the band that holds it, with the stated confidence."""

    tau_s: float
    shortest_s: float
    longest_s: float
    lowest_v: float  # of the record
    highest_v: float
    left_out: int  # isolated samples that were not used
    memory: Memory

    @property
    def fits(self) -> bool:
        """False if the record holds structure that one exponential does not explain."""
        return self.memory.p_value >= _DOES_NOT_FIT

    def time(self, from_v: float, to_v: float) -> Interval:
        """Holds the time from one voltage to a lower one if the band holds the time constant."""
        ratio = log(positive("from_v", from_v) / positive("to_v", to_v))
        if ratio < 0:
            raise TimingError(f"from_v is {from_v!r} and to_v {to_v!r}: give the higher voltage first")
        return Interval(floor(self.shortest_s * ratio * 1e9), ceil(self.longest_s * ratio * 1e9))

    def remaining_v(self, from_v: float, after_s: float) -> tuple[float, float]:
        """Least and greatest voltage left after a time."""
        start, since = positive("from_v", from_v), at_least_zero("after_s", after_s)
        return start * exp(-since / self.shortest_s), start * exp(-since / self.longest_s)


def fit_fall(
    times_ns: ArrayLike,
    volts: ArrayLike,
    *,
    floor_v: float,
    offset_v: float = 0.0,
    wander_s: float = 0.0,
    confidence: float = 0.95,
) -> Fall:
    """The time constant that explains a record best, with its band.

    `times_ns` int[n] and `volts` [n] of the discharge alone, used from the first sample until the median of nine
    is at `floor_v`. `offset_v`: the meter may be off by at most this much throughout; the band is the hull over all
    such errors, and the record fits if it does so with one of them. `wander_s`: the stamps may be late by anything
    within a range of this length; the band holds the errors of that kind that harm most. Raises NotIdentified if the
    record does not determine the time constant.
    """
    times, shown = record(times_ns, volts)
    steady = at_least_zero("offset_v", offset_v, "give the steady error of the meter, V, 0 or more")
    if steady >= positive("floor_v", floor_v, "give the lowest voltage to be used, V, above 0"):
        raise TimingError(f"offset_v is {offset_v!r}: give a floor above the steady error of the meter")
    errors = dict.fromkeys(steady * share for share in _SHARES)
    wander = at_least_zero("wander_s", wander_s, "give how much the delay of stamps may vary, s, 0 or more")
    fits = [_fit(falling(times, shown - by, floor_v - by), confidence, wander) for by in errors]
    shortest, longest = min(one.shortest_s for one in fits), max(one.longest_s for one in fits)
    best = max((one.memory for one in fits), key=lambda one: one.p_value)
    first = fits[0]
    return Fall(first.tau_s, shortest, longest, first.lowest_v, first.highest_v, first.left_out, best)


def unseen(fall: Fall, from_v: float, to_v: float) -> float:
    """The share of the time from one voltage to a lower one that lies outside the voltages recorded, 0 to 1."""
    high, low = min(from_v, fall.highest_v), max(to_v, fall.lowest_v)
    return 1 - max(0.0, log(high / low)) / log(from_v / to_v)


def _fit(used: Falling, confidence: float, wander_s: float) -> Fall:
    blocks = used.blocks

    def residuals(p: Floats) -> Floats:
        return blocks.residuals(lambda t: decayed(p[0], 0.0, p[1], t))

    found = least_squares(residuals, [1.0, 1.0], method="lm")
    shared, freedom = memory(found.fun, 2), len(found.fun) - 2
    least, rate = float(found.fun @ found.fun), float(found.x[1])
    factor = float(student.ppf((1 + fraction("confidence", confidence)) / 2, freedom))
    room = factor**2 / freedom * shared.inflation

    def over(k: float) -> float:
        shape, shown = blocks.weighed(decayed(1.0, 0.0, k, blocks.seconds)), blocks.weighed(blocks.values)
        rest = shown - shape * (shape @ shown) / (shape @ shape)
        return float(rest @ rest) - least * (1 + room)

    step = 3 * sqrt(least / freedom / float(np.sum(found.jac[:, 1] ** 2))) + 1e-12
    slow, quick = _edge(over, rate, -step), _edge(over, rate, step)
    warped = _warped(used, rate, wander_s)
    slow, quick = slow - warped, quick + warped
    if slow <= 0:
        raise NotIdentified("the record does not exclude a bus that keeps its voltage")
    span = used.seconds
    return Fall(span / rate, span / quick, span / slow, used.lowest, used.highest, used.left_out, shared)


def _warped(used: Falling, rate: float, wander_s: float) -> float:
    """By how much the rate may be off, as each stamp may be off by half of `wander_s` either way; to first order.

    The worst such errors change sign where a sample's pull on the rate does.
    """
    if wander_s == 0:
        return 0.0
    t = used.blocks.seconds
    shape = np.exp(-rate * t)
    pull = t * shape - shape * float(t @ shape**2) / float(shape @ shape)
    half = wander_s / 2 / used.seconds
    return half * rate * float(np.abs(pull) @ shape) / float(pull @ pull)


def _edge(over: Callable[[float], float], best: float, step: float) -> float:
    """Where the rate is just excluded, from `best` on in the direction of `step`."""
    while abs(best + step) < _ABSURD:
        if over(best + step) > 0:
            return float(brentq(over, best, best + step)) if over(best) < 0 else best
        step *= 2
    raise NotIdentified("the record does not bound the time constant: record a longer part of the discharge")
