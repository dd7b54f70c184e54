"""Intervals of integer nanoseconds: every operation holds every value that its parts may hold."""

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from interlock.interval import Interval, delay, ms_down, ms_up

MOST = 2**62
ends = st.integers(-MOST, MOST)


@st.composite
def intervals(draw: st.DrawFn, *, bounded: bool = False) -> Interval:
    """An interval, with or without an upper end."""
    lo = draw(ends)
    if not bounded and draw(st.booleans()):
        return Interval(lo, None)
    return Interval(lo, draw(st.integers(lo, MOST)))


@st.composite
def members(draw: st.DrawFn, interval: Interval) -> int:
    """A value inside."""
    return draw(st.integers(interval.lo, MOST if interval.hi is None else interval.hi))


@given(intervals())
def test_both_ends_are_inside(interval: Interval) -> None:
    assert interval.lo in interval
    assert interval.lo - 1 not in interval
    if interval.hi is not None:
        assert interval.hi in interval
        assert interval.hi + 1 not in interval


@given(intervals(), ends)
def test_inside_is_between_the_ends(interval: Interval, value: int) -> None:
    above = interval.hi is not None and value > interval.hi
    assert (value in interval) == (value >= interval.lo and not above)


@given(st.data(), intervals(), intervals())
def test_a_hull_holds_what_either_holds(data: st.DataObject, one: Interval, other: Interval) -> None:
    hull = one.hull(other)
    assert data.draw(members(one)) in hull
    assert data.draw(members(other)) in hull


@given(intervals(), intervals())
def test_a_hull_is_no_wider_than_it_must_be(one: Interval, other: Interval) -> None:
    hull = one.hull(other)
    assert hull.lo in {one.lo, other.lo}
    assert hull.hi in {one.hi, other.hi}
    assert one.hull(other) == other.hull(one)
    assert one.hull(one) == one


@given(intervals(), intervals(), intervals())
def test_hulls_may_be_taken_in_any_order(one: Interval, two: Interval, three: Interval) -> None:
    assert one.hull(two).hull(three) == one.hull(two.hull(three))


@given(st.data(), intervals(), intervals())
def test_a_shift_holds_every_sum(data: st.DataObject, one: Interval, by: Interval) -> None:
    assert data.draw(members(one)) + data.draw(members(by)) in one.shift(by)


@given(intervals(bounded=True), intervals(bounded=True))
def test_the_ends_of_a_shift_are_reached(one: Interval, by: Interval) -> None:
    shifted = one.shift(by)
    assert one.hi is not None
    assert by.hi is not None
    assert (shifted.lo, shifted.hi) == (one.lo + by.lo, one.hi + by.hi)
    assert one.shift(by) == by.shift(one)


@given(intervals(), ends)
def test_a_shift_by_one_value_keeps_the_width(one: Interval, by: int) -> None:
    shifted = one.shift(Interval(by, by))
    assert shifted.lo - by == one.lo
    assert (shifted.hi is None) == (one.hi is None)
    assert shifted.shift(Interval(-by, -by)) == one


@given(st.data(), intervals(bounded=True), intervals())
def test_a_delay_holds_the_true_one(data: st.DataObject, onset: Interval, effect: Interval) -> None:
    truth = data.draw(members(effect)) - data.draw(members(onset))
    assert truth in delay(onset, effect)


@given(intervals(bounded=True), intervals())
def test_the_ends_of_a_delay_are_reached(onset: Interval, effect: Interval) -> None:
    found = delay(onset, effect)
    assert onset.hi is not None
    assert found.lo == effect.lo - onset.hi
    assert found.hi == (None if effect.hi is None else effect.hi - onset.lo)


@given(intervals(bounded=True), intervals(), intervals(bounded=True), intervals())
def test_coarser_data_give_a_coarser_delay(
    onset: Interval, effect: Interval, more: Interval, further: Interval
) -> None:
    fine, coarse = delay(onset, effect), delay(onset.hull(more), effect.hull(further))
    assert fine.hull(coarse) == coarse


@given(intervals(bounded=True), intervals(), ends)
def test_a_delay_does_not_depend_on_where_time_begins(onset: Interval, effect: Interval, by: int) -> None:
    zero = Interval(by, by)
    assert delay(onset.shift(zero), effect.shift(zero)) == delay(onset, effect)


def test_an_onset_that_may_never_have_ended_gives_no_delay() -> None:
    with pytest.raises(ValueError, match="without upper bound has no lower bound"):
        delay(Interval(0, None), Interval(5, 6))


@given(ends, ends)
def test_an_interval_does_not_end_before_it_begins(lo: int, hi: int) -> None:
    assume(hi < lo)
    with pytest.raises(ValueError, match="ends before it begins"):
        Interval(lo, hi)


@pytest.mark.parametrize("end", [1.0, float("nan"), "1", True, False, 1 + 0j])
def test_ends_are_integers(end: object) -> None:
    with pytest.raises(TypeError, match="integer nanoseconds"):
        Interval(end, None)  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="integer nanoseconds"):
        Interval(0, end)  # type: ignore[arg-type]


def test_a_lower_end_is_always_known() -> None:
    with pytest.raises(TypeError):
        Interval(None, 1)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        Interval(None, None)  # type: ignore[arg-type]


def test_an_interval_cannot_be_changed() -> None:
    with pytest.raises(AttributeError):
        Interval(0, 1).lo = 2  # type: ignore[misc]


@given(intervals())
def test_equal_intervals_are_one_key(interval: Interval) -> None:
    assert {interval: 1}[Interval(interval.lo, interval.hi)] == 1


@given(st.integers(-(10**18), 10**18))
def test_a_bound_in_milliseconds_is_rounded_outwards_by_less_than_a_tenth(ns: int) -> None:
    low, high, true = Decimal(ms_down(ns)), Decimal(ms_up(ns)), Decimal(ns) / 10**6
    assert low <= true <= high
    assert true - low < Decimal("0.1") > high - true


@pytest.mark.parametrize(
    ("ns", "low", "high"),
    [
        (0, "0", "0"),
        (1, "0", "0.1"),
        (12_340_000, "12.3", "12.4"),
        (130_000_000, "130", "130"),
        (123_456_440_000, "123456.4", "123456.5"),  # a long coast-down: six digits would say 123456
        (-150_000, "-0.2", "-0.1"),
    ],
)
def test_milliseconds_by_hand(ns: int, low: str, high: str) -> None:
    assert (ms_down(ns), ms_up(ns)) == (low, high)
