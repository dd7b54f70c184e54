"""Is it getting slower: against published data, a reference library, and as often wrong as stated."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import ttest_ind

from interlock.timing.drift import drift, judge_drift
from interlock.timing.inputs import NotIdentified, TimingError
from interlock.verdict import Verdict

TIMES = st.lists(st.integers(0, 10**9), min_size=2, max_size=20)


def series(mean, deviation, count):
    """Values with exactly this mean and standard deviation."""
    raw = np.random.default_rng(count).normal(size=count)
    return mean + deviation * (raw - raw.mean()) / raw.std(ddof=1)


def test_published_two_sample_test() -> None:
    """NIST handbook 1.3.5.3, AUTO83B, unequal variances: t -12.9463, ν 136.875 (means and spreads from memory)."""
    old, new = series(20.14458, 6.41470, 249), series(30.48101, 6.10771, 79)
    found = drift(old, new)
    assert found.difference == pytest.approx(10.33643, abs=1e-5)
    error = (found.largest - found.least) / 2 / 1.97751  # t of 0.975 at 136.9, from tables of t
    assert found.difference / error == pytest.approx(12.9463, rel=1e-3)
    assert found.least > 0


@given(TIMES, TIMES)
def test_against_a_reference_library(old, new) -> None:
    """scipy's Welch test and its interval."""
    if np.std(old) == 0 or np.std(new) == 0:
        return
    found = drift(old, new)
    both = ttest_ind(new, old, equal_var=False).confidence_interval(0.95)
    assert (found.least, found.largest) == pytest.approx((both.low, both.high), rel=1e-6, abs=1e-3)


@given(TIMES, TIMES)
def test_turned_round_the_sign_turns(old, new) -> None:
    if np.std(old) + np.std(new) == 0:
        return
    one, other = drift(old, new), drift(new, old)
    assert one.difference == pytest.approx(-other.difference)
    assert (one.least, one.largest) == pytest.approx((-other.largest, -other.least))


def test_the_interval_holds_the_truth_as_often_as_stated() -> None:
    random = np.random.default_rng(9)
    held = []
    for _ in range(1000):
        found = drift(random.normal(200, 3, 10), random.normal(207, 6, 12))
        held.append(found.least <= 7 <= found.largest)
    assert 0.93 < np.mean(held) < 0.97


def test_not_shown_is_not_none() -> None:
    found = drift([195, 200, 205], [197, 202, 207])
    assert found.least < 0
    assert found.largest > 10


def test_what_the_measurement_may_differ_by_shows_nothing() -> None:
    old, new = series(200, 1, 10), series(203, 1, 10)
    assert drift(old, new).least > 0
    loose = drift(old, new, steady=5.0)
    assert loose.least < 0
    assert loose.largest == pytest.approx(drift(old, new).largest + 5)


def test_series_without_spread_need_a_resolution() -> None:
    with pytest.raises(NotIdentified, match="resolution"):
        drift([200, 200, 200], [201, 201, 201])
    found = drift([200] * 5, [201] * 5, steady=0.5)
    assert (found.least, found.largest) == (0.5, 1.5)
    assert drift([200] * 5, [201] * 5, steady=2.0).least < 0


@pytest.mark.parametrize(
    ("allowed", "verdict"), [(10.0, Verdict.PASS), (3.0, Verdict.INCONCLUSIVE), (0.5, Verdict.FAIL)]
)
def test_pass_only_if_more_is_excluded(allowed, verdict) -> None:
    found = drift(series(200, 2, 10), series(203, 2, 10))
    assert judge_drift(found, allowed) is verdict


def test_the_verdict_turns_at_the_ends() -> None:
    found = drift(series(200, 2, 10), series(203, 2, 10))
    assert judge_drift(found, found.largest) is Verdict.PASS
    assert judge_drift(found, np.nextafter(found.largest, 0)) is Verdict.INCONCLUSIVE
    assert judge_drift(found, found.least) is Verdict.INCONCLUSIVE
    assert judge_drift(found, np.nextafter(found.least, -np.inf)) is Verdict.FAIL


def test_odd_input() -> None:
    for old, new in (([1], [1, 2]), ([1, 2], []), ([1, np.nan], [1, 2]), ([1, 2], [1, "2"])):
        with pytest.raises(TimingError):
            drift(old, new)
    with pytest.raises(TimingError, match="confidence"):
        drift([1, 2], [2, 3], confidence=1.0)
    with pytest.raises(TimingError, match="steady"):
        drift([1, 2], [2, 3], steady=-1)
    with pytest.raises(TimingError, match="allowed"):
        judge_drift(drift([1, 2], [2, 3]), float("nan"))
