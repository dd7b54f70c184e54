"""Counts over periods: sums by hand, a year never reckoned from a few days, and a busier time never watered down."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from interlock.errors import RatingError
from interlock.rating.counted import LEAST_DAYS, CountedUse, Tally, larger
from interlock.rating.wear import Use

START = date(2025, 1, 1)


def period(first: int, days: int, operations: int, load_breaks: int = 0) -> Use:
    since = START + timedelta(days=first)
    return Use(operations, load_breaks, since, since + timedelta(days=days))


def counted(*periods: Use) -> CountedUse:
    return CountedUse("k1", periods, "register, entry 1")


THREE = counted(period(0, 100, 1000, 4), period(100, 50, 700, 1), period(200, 60, 300, 0))


def test_sums_by_hand() -> None:
    """1000 + 700 + 300 without load and 4 + 1 + 0 load breaks in 100 + 50 + 60 days; the gap of 50 days is left out."""
    assert THREE.days == 210
    assert THREE.tally("operations") == Tally(2000, 210, START, START + timedelta(days=260))
    assert THREE.tally("load_breaks") == Tally(5, 210, START, START + timedelta(days=260))
    assert THREE.tally("all") == Tally(2005, 210, START, START + timedelta(days=260))


def test_a_year_as_counted() -> None:
    assert Tally(2000, 200, START, START).mean == pytest.approx(3650)


@pytest.mark.parametrize("count", [0, 3, 50, 2000])
def test_the_upper_bound_against_the_poisson_distribution(count) -> None:
    """At the bound so few events or fewer have 5 % probability (scipy's Poisson distribution as oracle)."""
    tally = Tally(count, 73, START, START)
    assert poisson.cdf(count, tally.upper * 73 / 365) == pytest.approx(0.05, rel=1e-6)
    assert tally.upper > tally.mean


def test_a_gap_does_not_dilute_the_rate() -> None:
    together = counted(period(0, 100, 500), period(100, 100, 500)).tally("all")
    apart = counted(period(0, 100, 500), period(900, 100, 500)).tally("all")
    assert together.mean == apart.mean == pytest.approx(1825)


def test_the_latest_days_are_those_that_make_up_the_least_span() -> None:
    """60 days alone are too few; with the 50 before them they are 110."""
    assert THREE.latest("all") == Tally(1001, 110, START + timedelta(days=100), START + timedelta(days=260))
    assert counted(period(0, 400, 5)).latest("all") is None  # one period has no latest part
    assert counted(period(0, 50, 5), period(50, 39, 5)).latest("all") is None  # 89 days in all
    assert counted(period(0, 50, 5), period(50, 90, 9)).latest("all") == Tally(
        9, 90, START + timedelta(days=50), START + timedelta(days=140)
    )


def test_a_busier_year_is_not_hidden_by_quiet_ones() -> None:
    found = counted(*(period(365 * k, 365, 100) for k in range(9)), period(365 * 9, 365, 5000))
    whole, latest = found.tally("all"), found.latest("all")
    assert whole.upper < 700
    assert larger(whole, latest) == pytest.approx(5000)


def test_a_quiet_year_changes_nothing() -> None:
    found = counted(period(0, 365, 5000), period(365, 365, 100))
    assert larger(found.tally("all"), found.latest("all")) == found.tally("all").upper
    assert larger(found.tally("all"), None) == found.tally("all").upper


@pytest.mark.parametrize(
    ("days", "enough"), [(LEAST_DAYS - 1, False), (LEAST_DAYS, True), (1, False), (400, True)]
)
def test_a_year_needs_so_many_days(days, enough) -> None:
    assert counted(period(0, days, 10)).enough is enough
    if days > 1:
        assert counted(period(0, 1, 1), period(50, days - 1, 1)).enough is enough


def test_nothing_counted_is_no_zero() -> None:
    assert counted().tally("all") is None
    assert counted().latest("all") is None
    assert (counted().days, counted().enough) == (0, False)


def test_since_a_day() -> None:
    assert [one.operations for one in THREE.since(START + timedelta(days=100)).periods] == [700, 300]
    assert [one.operations for one in THREE.since(START + timedelta(days=99)).periods] == [1000, 700, 300]
    assert THREE.since(START + timedelta(days=260)).periods == ()
    assert THREE.since(START).source == THREE.source


@pytest.mark.parametrize(
    ("periods", "says"),
    [
        ((period(0, 100, 1), period(99, 10, 1)), "do not overlap"),
        ((period(200, 10, 1), period(0, 10, 1)), "in order"),
        ((period(0, 0, 1),), "at least one day"),
        ((period(10, -5, 1),), "at least one day"),
    ],
)
def test_bad_periods(periods, says) -> None:
    with pytest.raises(RatingError, match=says):
        counted(*periods)


lengths = st.lists(
    st.tuples(st.integers(1, 300), st.integers(0, 3000), st.integers(0, 50)), min_size=1, max_size=6
)


@given(lengths, st.integers(1, 500))
def test_one_more_operation_never_lowers_the_rate(parts, more) -> None:
    def rate(extra: int) -> float:
        periods, at = [], 0
        for k, (days, light, heavy) in enumerate(parts):
            periods.append(period(at, days, light + (extra if k == len(parts) - 1 else 0), heavy))
            at += days
        found = counted(*periods)
        return larger(found.tally("all"), found.latest("all"))

    assert rate(more) > rate(0)


@given(lengths, st.data())
def test_cutting_a_period_in_two_changes_no_sum(parts, data) -> None:
    at, periods = 0, []
    for days, light, heavy in parts:
        periods.append(period(at, days, light, heavy))
        at += days + 3
    first = data.draw(st.integers(0, len(parts) - 1))
    days, light, heavy = parts[first]
    if days == 1:
        return
    cut, part = data.draw(st.integers(1, days - 1)), data.draw(st.integers(0, light))
    one = periods[first]
    middle = one.since + timedelta(days=cut)
    split = [Use(part, heavy, one.since, middle), Use(light - part, 0, middle, one.until)]
    other = counted(*periods[:first], *split, *periods[first + 1 :])
    for kind in ("all", "operations", "load_breaks"):
        assert other.tally(kind) == counted(*periods).tally(kind)
    assert other.enough == counted(*periods).enough
