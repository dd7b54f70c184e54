"""Repeated stops against published data, simulation, and bounds that hold whatever the intervals hide."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.interval import Interval
from interlock.timing.inputs import TimingError
from interlock.timing.repeat import Basis, judge_repeats, summarise, worth
from interlock.timing.statistics import upper_tolerance_bound
from interlock.verdict import Verdict

MS = 1_000_000
# Shapiro and Wilk 1965: weights of eleven men, W 0.79 (from memory).
MEN = [148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236]
TEN = [190, 195, 200, 201, 205, 210, 195, 198, 199, 202]


def stops(milliseconds, width_ms=0.0):
    half = round(width_ms * MS / 2)
    return [Interval(round(t * MS) - half, round(t * MS) + half) for t in milliseconds]


def test_figures_by_hand() -> None:
    """9, 10, 11 ms: mean 10, s 1 (n - 1), one-sided factor 7.656 (published table)."""
    found = summarise(stops([9, 10, 11]))
    assert found.worst == Interval(11 * MS, 11 * MS)
    assert found.mean == Interval(10 * MS, 10 * MS)
    assert found.spread.lo / MS == pytest.approx(1.0, abs=1e-6)
    assert found.spread.hi / MS == pytest.approx(1.0, abs=1e-6)
    assert found.normal_bound_ns / MS == pytest.approx(17.656, abs=0.001)
    assert found.needed == 59


def test_the_published_example_of_the_normality_test() -> None:
    found = summarise(stops(MEN)).normality
    assert found.test == "Shapiro-Wilk"
    assert found.statistic == pytest.approx(0.79, abs=0.005)
    assert found.refuted


def test_a_normal_series_is_not_refuted() -> None:
    found = summarise(stops(TEN)).normality
    assert found.p_value > 0.5
    assert not found.refuted


def test_the_test_of_normality_errs_as_often_as_stated() -> None:
    random = np.random.default_rng(3)
    refuted = [summarise(stops(random.normal(200, 5, 12))).normality.refuted for _ in range(600)]
    assert 0.03 < np.mean(refuted) < 0.075


def test_many_stops_are_tested_by_their_moments() -> None:
    random = np.random.default_rng(3)
    assert summarise(stops(random.normal(200, 5, 5001))).normality.test == "D'Agostino-Pearson"
    assert summarise(stops(random.exponential(5, 5001))).normality.refuted


def test_no_outlier_is_dropped() -> None:
    found = summarise(stops([*TEN, 900]))
    assert found.worst.hi == 900 * MS
    assert len(found.stops) == 11
    assert found.normality.refuted


def test_too_few_or_equal_stops_have_no_test() -> None:
    assert summarise(stops([10, 11])).normality is None
    assert summarise(stops([10, 10, 10, 10])).normality is None
    one = summarise(stops([10]))
    assert (one.normal_bound_ns, one.spread.hi) == (None, None)


def test_a_stop_without_an_end_is_never_forgotten() -> None:
    found = summarise([*stops(TEN), Interval(150 * MS, None)])
    assert found.worst.hi is None
    assert found.mean.hi is None
    assert found.normal_bound_ns is None
    for basis in Basis:
        assert judge_repeats(found, 10**12, basis)[0] is Verdict.INCONCLUSIVE


@given(
    st.lists(st.tuples(st.floats(0, 400), st.floats(0, 50), st.floats(0, 1)), min_size=2, max_size=20),
    st.floats(0.5, 0.99),
)
def test_the_bounds_hold_whatever_the_intervals_hide(rows, proportion) -> None:
    """For any true times within the intervals, their own figures lie within the ones given."""
    inside = [Interval(int(low * MS), int((low + width) * MS)) for low, width, _ in rows]
    true = [one.lo + part * (one.hi - one.lo) for one, (_, _, part) in zip(inside, rows, strict=True)]
    found = summarise(inside, proportion)
    assert found.worst.lo <= max(true) <= found.worst.hi
    assert found.mean.lo <= np.mean(true) <= found.mean.hi
    assert found.spread.lo - 1 <= np.std(true, ddof=1) <= found.spread.hi + 1
    assert upper_tolerance_bound(true, proportion, 0.95) <= found.normal_bound_ns + 10


@pytest.mark.parametrize(
    ("limit", "basis", "verdict", "why"),
    [
        (220, Basis.NORMAL, Verdict.PASS, "bound 0.95"),
        (215, Basis.NORMAL, Verdict.INCONCLUSIVE, "above the limit"),
        (220, Basis.LARGEST, Verdict.INCONCLUSIVE, "59 are needed"),
        (205, Basis.NORMAL, Verdict.FAIL, "longer than the limit"),
        (205, Basis.LARGEST, Verdict.FAIL, "longer than the limit"),
    ],
)
def test_ten_stops(limit, basis, verdict, why) -> None:
    """Mean 199.5 ms, s 5.603 ms, k 2.911: bound 215.8 ms."""
    found, reason = judge_repeats(summarise(stops(TEN)), limit * MS, basis)
    assert found is verdict
    assert why in reason


def test_a_stop_that_may_have_taken_too_long_is_inconclusive() -> None:
    found, reason = judge_repeats(summarise(stops(TEN, width_ms=10)), 212 * MS, Basis.NORMAL)
    assert found is Verdict.INCONCLUSIVE
    assert "may have taken longer" in reason


def test_stops_that_are_not_normal_have_no_normal_bound() -> None:
    found, reason = judge_repeats(summarise(stops(MEN)), 10**12, Basis.NORMAL)
    assert found is Verdict.INCONCLUSIVE
    assert "not normal" in reason


def test_equal_stops_show_no_spread_and_bound_nothing() -> None:
    found, reason = judge_repeats(summarise(stops([10.0] * 10)), 10**12, Basis.NORMAL)
    assert found is Verdict.INCONCLUSIVE
    assert "too equal" in reason


@pytest.mark.parametrize(("proportion", "enough"), [(0.95, 59), (0.99, 299)])
def test_enough_stops_bound_without_a_distribution(proportion, enough) -> None:
    """59 for 95/95 and 299 for 99/95 (published), one fewer is not enough."""
    random = np.random.default_rng(1)
    times = random.exponential(20, enough) + 100
    just, short = (summarise(stops(times[:n]), proportion) for n in (enough, enough - 1))
    assert judge_repeats(just, 10**12, Basis.LARGEST)[0] is Verdict.PASS
    assert judge_repeats(short, 10**12, Basis.LARGEST)[0] is Verdict.INCONCLUSIVE


def test_what_ten_stops_are_worth() -> None:
    """0.05^(1/10) = 74.1 %, 1 - 0.95^10 = 40.1 %, mean + 3 s 95.6 % (computed elsewhere by solving for it)."""
    for figure in ("74.1%", "40.1%", "95.6%", "59 stops", "299 for 99 %"):
        assert figure in worth(10)


@pytest.mark.parametrize(("count", "covered", "sure"), [(58, "95.0%", "94.9%"), (59, "95.0%", "95.2%")])
def test_59_is_where_95_of_95_is_reached(count, covered, sure) -> None:
    """1 - 0.95^58 is 94.9 %, 1 - 0.95^59 is 95.2 % (by hand)."""
    assert f"above {covered} of all such stops with 95% confidence" in worth(count)
    assert f"95 % of them with {sure}" in worth(count)


def test_one_stop_is_worth_little() -> None:
    assert "above 5.0% of all such stops" in worth(1)
    assert "mean + 3 s above 0.0%" in worth(1)


def test_the_coverage_of_the_largest_by_simulation() -> None:
    """20 000 series of ten: in 95 % the largest lies above 74.1 % of all, whatever the distribution."""
    random = np.random.default_rng(5)
    share = 1 - np.exp(-random.exponential(size=(20_000, 10)).max(axis=1))
    assert "above 74.1% of all such stops" in worth(10)
    assert np.mean(share >= 0.741) == pytest.approx(0.95, abs=0.005)


def test_odd_input() -> None:
    with pytest.raises(TimingError, match="no stop"):
        summarise([])
    for bad in (0, -1, 1.5, True):
        with pytest.raises(TimingError, match="count"):
            worth(bad)
    with pytest.raises(TimingError, match="proportion"):
        summarise(stops([1, 2]), proportion=95)
