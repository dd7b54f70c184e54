"""Tolerance bounds against printed tables, a direct integral and a simulation."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import chi, norm

from interlock.errors import RatingError
from interlock.timing.statistics import samples_needed, tolerance_factor, upper_tolerance_bound

PAIRS = [(0.90, 0.95), (0.95, 0.95), (0.99, 0.95), (0.95, 0.99), (0.99, 0.99)]
# One-sided normal factors by coverage and confidence; 2.911 at n 10 is the textbook value, the others computed
# with scipy's noncentral t; three decimals.
FACTORS = {
    3: (6.155, 7.656, 10.553, 17.370, 23.896),
    5: (3.407, 4.203, 5.741, 6.578, 8.939),
    8: (2.582, 3.187, 4.354, 4.285, 5.812),
    10: (2.355, 2.911, 3.981, 3.738, 5.074),
    15: (2.068, 2.566, 3.520, 3.102, 4.222),
    20: (1.926, 2.396, 3.295, 2.808, 3.832),
    30: (1.777, 2.220, 3.064, 2.515, 3.447),
    50: (1.646, 2.065, 2.862, 2.269, 3.125),
    100: (1.527, 1.927, 2.684, 2.056, 2.850),
}


@pytest.mark.parametrize(
    ("n", "proportion", "confidence", "factor"),
    [(n, *pair, factor) for n, row in FACTORS.items() for pair, factor in zip(PAIRS, row, strict=True)],
)
def test_factors(n, proportion, confidence, factor) -> None:
    assert tolerance_factor(n, proportion, confidence) == pytest.approx(factor, abs=0.001)


def test_factor_of_999_per_mille() -> None:
    assert tolerance_factor(n=10, proportion=0.999, confidence=0.95) == pytest.approx(5.203, abs=0.001)


@pytest.mark.parametrize(
    ("proportion", "confidence", "n"),
    [  # exact: the least n with 1 - p^n >= confidence
        (0.90, 0.95, 29),
        (0.95, 0.95, 59),
        (0.99, 0.95, 299),
        (0.95, 0.99, 90),
        (0.99, 0.99, 459),
        (0.999, 0.95, 2995),
        (0.90, 0.90, 22),
        (0.95, 0.90, 45),
        (0.99, 0.90, 230),
        (0.5, 0.75, 2),  # 1 - 0.25 is exactly 0.75: two values do
        (0.9, 0.19, 2),  # 1 - 0.81 is exactly 0.19
        (0.9, 0.1, 1),
        (0.9, 0.05, 1),
        (0.999999, 0.95, 2_995_731),
    ],
)
def test_samples(proportion, confidence, n) -> None:
    assert samples_needed(proportion, confidence) == n


@settings(deadline=None)
@given(st.floats(0.01, 0.9999), st.floats(0.01, 0.9999))
def test_no_sample_too_few_and_none_too_many(proportion, confidence) -> None:
    n = samples_needed(proportion, confidence)
    reached = -math.expm1(n * math.log(proportion))
    assert reached >= confidence * (1 - 1e-12)
    if n > 1:
        assert -math.expm1((n - 1) * math.log(proportion)) < confidence * (1 + 1e-12)


def confidence_of(k: float, n: int, proportion: float) -> float:
    """P(mean + k s >= quantile), integrated over the distribution of s: no noncentral t involved."""
    nu, z = n - 1, norm.ppf(proportion)

    def weighed(s: float) -> float:
        return norm.cdf(math.sqrt(n) * (k * s - z)) * chi.pdf(s * math.sqrt(nu), nu) * math.sqrt(nu)

    width = 12 / math.sqrt(2 * nu)
    return quad(weighed, max(0.0, 1 - width), 1 + width, points=[1.0], limit=200)[0]


@pytest.mark.parametrize("n", [3, 10, 50, 1000])
@pytest.mark.parametrize(("proportion", "confidence"), [(0.95, 0.95), (0.999, 0.95), (0.5, 0.9), (0.1, 0.9)])
def test_factors_against_a_direct_integral(n, proportion, confidence) -> None:
    factor = tolerance_factor(n, proportion, confidence)
    assert confidence_of(factor, n, proportion) == pytest.approx(confidence, abs=1e-6)


def test_factors_against_simulation() -> None:
    """100 000 series of 10 normal values: the bound holds 95 % of all in 95 % of the series."""
    random = np.random.default_rng(13855)
    series = random.normal(0.2, 0.01, size=(100_000, 10))
    bound = series.mean(axis=1) + tolerance_factor(10, 0.95, 0.95) * series.std(axis=1, ddof=1)
    assert np.mean(bound >= 0.2 + 0.01 * norm.ppf(0.95)) == pytest.approx(0.95, abs=0.003)


def test_mean_and_three_sigma_of_ten_bound_95_6_per_cent_not_99_87() -> None:
    """A common reading of ISO 13855:2010, Annex D; solved for the coverage at 95 % confidence."""
    assert tolerance_factor(10, 0.956, 0.95) == pytest.approx(3.0, abs=0.01)
    assert tolerance_factor(10, 0.9987, 0.95) > 4.9


def test_the_largest_of_ten_exceeds_the_95th_percentile_in_40_per_cent() -> None:
    assert pytest.approx(0.40, abs=0.005) == 1 - 0.95**10
    assert samples_needed(0.95, 0.40) == 10
    assert samples_needed(0.95, 0.41) == 11


def test_bound_of_values_by_hand() -> None:
    """Values 9, 10, 11: mean 10, s 1 (n - 1), factor 7.656."""
    assert upper_tolerance_bound([9.0, 10.0, 11.0], 0.95, 0.95) == pytest.approx(17.656, abs=0.001)
    assert upper_tolerance_bound(values=iter([9, 10, 11]), proportion=0.95, confidence=0.95) > 17


def test_equal_values_are_their_own_bound() -> None:
    assert upper_tolerance_bound([0.2] * 10, 0.95, 0.95) == pytest.approx(0.2)


def test_arrays_are_read() -> None:
    values = np.array([0.19, 0.2, 0.21])
    assert upper_tolerance_bound(values, 0.9, 0.95) == pytest.approx(0.2 + 6.155 * 0.01, abs=1e-4)


@settings(deadline=None)
@given(st.lists(st.floats(0, 100), min_size=2, max_size=30), st.floats(0.01, 50))
def test_shift_and_scale(values, by) -> None:
    bound = upper_tolerance_bound(values, 0.95, 0.95)
    assert upper_tolerance_bound([v + by for v in values], 0.95, 0.95) == pytest.approx(bound + by, abs=1e-6)
    assert upper_tolerance_bound([v * by for v in values], 0.95, 0.95) == pytest.approx(
        bound * by, rel=1e-6, abs=1e-6
    )


@settings(deadline=None)
@given(st.integers(2, 200), st.floats(0.5, 0.99), st.floats(0.5, 0.99), st.floats(0.001, 0.009))
def test_factors_are_monotone(n, proportion, confidence, step) -> None:
    base = tolerance_factor(n, proportion, confidence)
    assert tolerance_factor(n, proportion + step, confidence) > base
    assert tolerance_factor(n, proportion, confidence + step) > base
    assert tolerance_factor(n + 1, 0.95, 0.95) < tolerance_factor(n, 0.95, 0.95)


def test_many_values_approach_the_quantile() -> None:
    assert norm.ppf(0.95) < tolerance_factor(100_000, 0.95, 0.95) < norm.ppf(0.95) + 0.01


@pytest.mark.parametrize("n", [1, 0, -5, 10.5, None, True, "10", math.nan])
def test_odd_counts(n) -> None:
    with pytest.raises(RatingError, match="at least 2"):
        tolerance_factor(n, 0.95, 0.95)


@pytest.mark.parametrize("bad", [0, 1, 95, -0.5, math.nan, math.inf, None, "0.95", True])
def test_odd_fractions(bad) -> None:
    for call in (
        lambda: tolerance_factor(10, bad, 0.95),
        lambda: tolerance_factor(10, 0.95, bad),
        lambda: samples_needed(bad, 0.95),
        lambda: samples_needed(0.95, bad),
        lambda: upper_tolerance_bound([1, 2, 3], bad, 0.95),
    ):
        with pytest.raises(RatingError, match="fraction above 0 and below 1"):
            call()


@pytest.mark.parametrize("values", [[], [0.2], [0.2, math.nan], [0.2, math.inf], [0.2, None], [0.2, "0.3"]])
def test_odd_values(values) -> None:
    with pytest.raises(RatingError):
        upper_tolerance_bound(values, 0.95, 0.95)


def test_an_odd_value_is_named_by_its_place() -> None:
    with pytest.raises(RatingError, match="value 2 is nan"):
        upper_tolerance_bound([0.2, math.nan, 0.2], 0.95, 0.95)


def test_numpy_counts_are_counts() -> None:
    assert tolerance_factor(np.int64(10), 0.95, 0.95) == tolerance_factor(10, 0.95, 0.95)
