"""How the stamps of one source map to the common time base: offset, drift, and how sure both are.

common = stamp + offset + drift · (stamp - anchor). Integer nanoseconds and exact ratios; every interval rounded
outwards. Give latencies within one source by `between`: the offset cancels there, only the drift is left.
"""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.timing.inputs import TimingError

__all__ = ["ClockDrift", "SourceClock"]

_WIDEST = Fraction(1, 100)


@dataclass(frozen=True, slots=True)
class ClockDrift:
    """By how much the common time runs faster than a source's: from `low` to `high`, exact; it may wander within."""

    low: Fraction
    high: Fraction

    def __post_init__(self) -> None:
        if not -_WIDEST <= self.low <= self.high <= _WIDEST:
            raise TimingError(
                f"a drift from {self.low} to {self.high}: give the lower bound first, within ±1 %"
            )

    @classmethod
    def ppm(cls, within: int | str | Fraction, about: int | str | Fraction = 0) -> "ClockDrift":
        """`about` ± `within` parts in a million, exact (write 0.1 as '0.1')."""
        middle, half = Fraction(about) / 10**6, Fraction(within) / 10**6
        return cls(middle - half, middle + half)

    def over(self, elapsed_ns: int) -> Interval:
        """What the drift adds to a stretch of the source's time, which may be negative."""
        ends = (self.low * elapsed_ns, self.high * elapsed_ns)
        return Interval(_floor(min(ends)), -_floor(-max(ends)))


@dataclass(frozen=True, slots=True)
class SourceClock:
    """The stamps of one source on the common time base."""

    anchor_ns: int  # the stamp at which the offset is known
    offset: Interval  # common time minus stamp, there
    drift: ClockDrift

    def __post_init__(self) -> None:
        if self.offset.hi is None:
            raise TimingError("an offset without an upper bound aligns nothing: give both bounds")

    def common(self, stamp: int | Interval) -> Interval:
        """Holds the common time of every instant between the ends of `stamp`, given on the source's clock."""
        if isinstance(stamp, Interval):
            first = self.common(stamp.lo)
            return Interval(first.lo, None if stamp.hi is None else self.common(stamp.hi).hi)
        return self.offset.shift(self.drift.over(stamp - self.anchor_ns)).shift(Interval(stamp, stamp))

    def between(self, first: Interval, second: Interval) -> Interval:
        """Holds the common time that passes from one instant to another, both given on the source's clock."""
        if first.hi is None:
            raise TimingError("the first instant has no upper bound: no time passed can be told")
        least = second.lo - first.hi
        low = least + self.drift.over(least).lo
        if second.hi is None:
            return Interval(low, None)
        most = second.hi - first.lo
        return Interval(low, most + (self.drift.over(most).hi or 0))

    def common_bounds(self, stamps_ns: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Lower and upper bounds of the common time of many stamps; int64[n] each, as `common` gives."""
        elapsed, hi = stamps_ns - self.anchor_ns, self.offset.hi or 0
        ends = _times(elapsed, self.drift.low), _times(elapsed, self.drift.high)
        low = np.where(elapsed < 0, ends[1][0], ends[0][0])
        high = np.where(elapsed < 0, ends[0][1], ends[1][1])
        return stamps_ns + self.offset.lo + low, stamps_ns + hi + high


def _floor(ratio: Fraction) -> int:
    return ratio.numerator // ratio.denominator


def _times(elapsed: NDArray[np.int64], ratio: Fraction) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Floor and ceiling of elapsed · ratio, exact; in whole and remainder, so that no product overflows."""
    top, bottom = ratio.numerator, ratio.denominator
    wide = abs(top) * bottom >= 2**62
    count = elapsed.astype(object) if wide else elapsed
    whole, rest = count // bottom, count % bottom
    floor = whole * top + (rest * top) // bottom
    inexact = (rest * top) % bottom != 0
    return floor.astype(np.int64), (floor + inexact).astype(np.int64)
