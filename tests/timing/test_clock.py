"""A source's clock is exact, rounds outwards, and holds every true instant its bounds allow."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.interval import Interval, delay
from interlock.timing.clock import ClockDrift, SourceClock
from interlock.timing.inputs import TimingError

DAY = 86_400 * 10**9
STEADY = ClockDrift.ppm(0)


@st.composite
def drifts(draw):
    ends = sorted(draw(st.lists(st.fractions(Fraction(-1, 100), Fraction(1, 100)), min_size=2, max_size=2)))
    return ClockDrift(*ends)


@st.composite
def clocks(draw):
    low = draw(st.integers(-(10**12), 10**12))
    return SourceClock(
        draw(st.integers(0, DAY)), Interval(low, low + draw(st.integers(0, 10**9))), draw(drifts())
    )


def test_twenty_ppm_of_an_hour_by_hand() -> None:
    """20 millionths of 3600 s are 72 ms."""
    clock = SourceClock(0, Interval(0, 0), ClockDrift.ppm(0, about=20))
    assert clock.common(3600 * 10**9) == Interval(3600 * 10**9 + 72_000_000, 3600 * 10**9 + 72_000_000)


def test_uncertainty_grows_on_both_sides_of_the_anchor() -> None:
    clock = SourceClock(10**9, Interval(-5, 5), ClockDrift.ppm(100))
    assert clock.common(10**9) == Interval(10**9 - 5, 10**9 + 5)
    assert clock.common(2 * 10**9) == Interval(2 * 10**9 - 5 - 100_000, 2 * 10**9 + 5 + 100_000)
    assert clock.common(0) == Interval(-5 - 100_000, 5 + 100_000)


def test_exact_where_floats_are_not() -> None:
    """An epoch in nanoseconds with a third of a ppm: floats step by 256 ns there."""
    epoch = 1_700_000_000_000_000_001
    clock = SourceClock(0, Interval(0, 0), ClockDrift.ppm(0, about=Fraction(1, 3)))
    found = clock.common(epoch)
    exact = epoch + Fraction(epoch, 3 * 10**6)
    assert found.lo == exact.numerator // exact.denominator
    assert found.hi - found.lo <= 1
    assert found.lo <= exact <= found.hi


def test_ppm_may_be_written_as_text() -> None:
    assert ClockDrift.ppm("0.1") == ClockDrift(Fraction(-1, 10**7), Fraction(1, 10**7))


@given(clocks(), st.integers(0, DAY), st.fractions(0, 1), st.fractions(0, 1))
def test_every_allowed_clock_is_held(clock, stamp, where, part) -> None:
    """Any offset and any steady drift within the bounds."""
    offset = clock.offset.lo + where * (clock.offset.hi - clock.offset.lo)
    drift = clock.drift.low + part * (clock.drift.high - clock.drift.low)
    true = stamp + offset + drift * (stamp - clock.anchor_ns)
    found = clock.common(stamp)
    assert found.lo <= true <= found.hi


@given(clocks(), st.integers(0, DAY), st.sampled_from([0, 1]), st.sampled_from([0, 1]))
def test_the_bounds_are_attained_to_a_nanosecond(clock, stamp, side, _) -> None:
    found = clock.common(stamp)
    ends = [
        stamp + offset + drift * (stamp - clock.anchor_ns)
        for offset in (clock.offset.lo, clock.offset.hi)
        for drift in (clock.drift.low, clock.drift.high)
    ]
    assert abs((min(ends), max(ends))[side] - (found.lo, found.hi)[side]) < 1


@given(clocks(), st.lists(st.integers(0, DAY), min_size=1, max_size=20))
def test_many_stamps_as_one(clock, stamps) -> None:
    low, high = clock.common_bounds(np.array(stamps, dtype=np.int64))
    one = [clock.common(stamp) for stamp in stamps]
    assert low.tolist() == [found.lo for found in one]
    assert high.tolist() == [found.hi for found in one]


@given(clocks(), st.integers(0, DAY), st.integers(0, DAY), st.integers(0, 1000), st.fractions(0, 1))
def test_time_between_two_instants_of_one_source(clock, first, second, width, part) -> None:
    """The offset cancels: the true elapsed time is within, and never wider than over the common base."""
    drift = clock.drift.low + part * (clock.drift.high - clock.drift.low)
    one, other = Interval(first, first + width), Interval(second, second + width)
    found = clock.between(one, other)
    for start in (one.lo, one.hi):
        for end in (other.lo, other.hi):
            assert found.lo <= (end - start) * (1 + drift) <= found.hi
    loose = delay(clock.common(one), clock.common(other))
    assert loose.lo <= found.lo + 1
    assert found.hi <= loose.hi + 1


def test_between_keeps_an_open_end_open() -> None:
    clock = SourceClock(0, Interval(0, 10**9), STEADY)
    assert clock.between(Interval(0, 5), Interval(10, None)) == Interval(5, None)
    assert clock.common(Interval(0, None)).hi is None
    with pytest.raises(TimingError, match="no upper bound"):
        clock.between(Interval(0, None), Interval(10, 20))


def test_two_sources_of_one_run() -> None:
    """Onset on a scope whose clock is known to ±1 ms, effect on the base: the latency carries the millisecond."""
    scope = SourceClock(0, Interval(49_000_000, 51_000_000), STEADY)
    onset, effect = scope.common(Interval(100_000_000, 100_100_000)), Interval(170_000_000, 180_000_000)
    assert delay(onset, effect) == Interval(170_000_000 - 151_100_000, 180_000_000 - 149_000_000)


@pytest.mark.parametrize(
    "make",
    [
        lambda: ClockDrift.ppm(-1),
        lambda: ClockDrift.ppm(20_000),
        lambda: ClockDrift(Fraction(1, 2), Fraction(1, 2)),
        lambda: SourceClock(0, Interval(0, None), STEADY),
    ],
)
def test_odd_clocks(make) -> None:
    with pytest.raises(TimingError):
        make()


def test_a_drift_with_a_huge_denominator_does_not_overflow() -> None:
    fine = Fraction(10**15 + 1, 10**18 + 3)
    clock = SourceClock(0, Interval(0, 0), ClockDrift(fine, fine))
    low, high = clock.common_bounds(np.array([DAY, -DAY]))
    assert low.tolist() == [clock.common(DAY).lo, clock.common(-DAY).lo]
    assert high.tolist() == [clock.common(DAY).hi, clock.common(-DAY).hi]
