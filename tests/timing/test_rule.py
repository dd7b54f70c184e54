"""The decision rules against printed probabilities and simulation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from interlock.interval import Interval
from interlock.timing.inputs import TimingError
from interlock.timing.rule import (
    GUARDED,
    SIMPLE,
    Measured,
    Rule,
    accepts,
    false_acceptance,
    largest_false_acceptance,
)

LIMIT = 200.0


def taken(rule, measured, u=4.5):
    return accepts(rule, Measured(measured, deviation=u), LIMIT)


@pytest.mark.parametrize(
    ("measured", "u", "limit", "conforms"),
    [
        (-5.47, 0.05, -5.40, 0.92),  # JCGM 106:2012, 7.3: breakdown voltage of a Zener diode (from memory)
        (
            -509.7,
            8.6,
            -490.0,
            0.99,
        ),  # JCGM 106:2012, 7.3: burst strength, a lower limit mirrored (from memory)
        (191.0, 4.5, 200.0, 0.9772),  # worked cases with an upper limit of 200 ms
        (190.0, 4.5, 200.0, 0.9869),
        (200.0, 4.5, 200.0, 0.5),
    ],
)
def test_printed_conformance_probabilities(measured, u, limit, conforms) -> None:
    places = 0.005 if conforms in {0.92, 0.99} else 0.0001
    assert 1 - false_acceptance(measured, u, limit) == pytest.approx(conforms, abs=places)


@pytest.mark.parametrize(
    (
        "z",
        "conforms",
    ),  # JCGM 106:2012, table 1: standardised distance and conformance probability (from memory)
    [(0.84, 0.80), (1.28, 0.90), (1.64, 0.95), (2.33, 0.99), (3.09, 0.999)],
)
def test_printed_distances(z, conforms) -> None:
    assert 1 - false_acceptance(LIMIT - z, 1.0, LIMIT) == pytest.approx(conforms, abs=0.0008)


@pytest.mark.parametrize(
    ("guard", "risk"),
    [(0.0, 0.5), (1.645, 0.05), (2.0, 0.0228), (3.0, 0.00135)],
)
def test_printed_risks_of_guard_bands(guard, risk) -> None:
    """Guard band in standard uncertainties, probability above the limit right at acceptance; three digits."""
    assert largest_false_acceptance(Rule("w", guard / 2)) == pytest.approx(risk, rel=0.0025)
    assert largest_false_acceptance(Rule("w", guard, coverage=1.0)) == pytest.approx(risk, rel=0.0025)


@pytest.mark.parametrize(
    ("rule", "measured", "accepted"),
    [
        (SIMPLE, 200.0, True),
        (SIMPLE, 200.001, False),
        (GUARDED, 191.0, True),
        (GUARDED, 191.001, False),
        (GUARDED, 200.0, False),
    ],
)
def test_where_each_rule_accepts(rule, measured, accepted) -> None:
    """Limit 200, u 4.5, U 9: JCGM 106:2012, 8.3 (from memory), and ILAC-G8:09/2019, guard band w = U."""
    assert taken(rule, measured) is accepted


def test_the_risk_at_the_acceptance_limit_is_the_largest() -> None:
    for rule, at in ((GUARDED, 191.0), (SIMPLE, 200.0)):
        assert Measured(at, deviation=4.5).above(LIMIT) == pytest.approx(largest_false_acceptance(rule))


@given(st.floats(100, 300), st.floats(0.01, 50), st.floats(0, 3), st.floats(0, 1))
def test_a_wider_guard_never_accepts_more(measured, u, guard, more) -> None:
    narrow, wide = (taken(Rule("r", r), measured, u) for r in (guard, guard + more))
    assert narrow or not wide


@given(st.floats(100, 300), st.floats(0.01, 50), st.floats(0, 3))
def test_no_acceptance_carries_more_than_the_stated_risk(measured, u, guard) -> None:
    if taken(Rule("r", guard), measured, u):
        assert (
            Measured(measured, deviation=u).above(LIMIT) <= largest_false_acceptance(Rule("r", guard)) + 1e-12
        )


@pytest.mark.parametrize(
    ("half", "deviation", "u"),
    [
        (2.0, 0.0, 1.1547),  # JCGM 100:2008, 4.3.7: a/sqrt(3)
        (0.0, 1.5, 1.5),
        (2.0, 0.5, 1.2583),  # 5.1.2: root of the sum of squares
    ],
)
def test_the_combined_uncertainty(half, deviation, u) -> None:
    assert Measured(10.0, half, deviation).uncertainty == pytest.approx(u, abs=1e-4)


@pytest.mark.parametrize(("half", "deviation"), [(10, 0), (10, 1e-12), (10, 1), (3, 3), (0.1, 5), (0, 5)])
@pytest.mark.parametrize("far", [-30.0, -9.0, -2.0, 0.0, 4.0, 20.0])
def test_the_risk_of_a_bounded_and_a_normal_error_against_an_integral(half, deviation, far) -> None:
    """scipy's normal distribution, averaged over the bounded error at a hundred thousand even places."""
    places = (np.arange(100_000) + 0.5) / 100_000 * 2 - 1
    expected = np.mean(norm.cdf((far + half * places) / max(deviation, 1e-12)))
    assert Measured(LIMIT + far, half, deviation).above(LIMIT) == pytest.approx(expected, abs=2e-5)


@given(st.integers(0, 400), st.integers(0, 50))
def test_an_interval_wholly_within_carries_no_risk_and_one_wholly_above_all_of_it(low, width) -> None:
    """With nothing but the interval: the evidence excludes a violation, or shows it."""
    found = Measured.bounded(Interval(low, low + width))
    if low + width <= LIMIT:
        assert found.above(LIMIT) == 0
    if low > LIMIT:
        assert found.above(LIMIT) == 1


def test_an_interval_or_band_without_an_end_has_no_value() -> None:
    assert Measured.bounded(Interval(3, None), 4) is None
    assert Measured.banded(Interval(3, None)) is None


def test_of_a_95_per_cent_band_the_half_width_is_the_expanded_uncertainty() -> None:
    found = Measured.banded(Interval(100, 120))
    assert (found.value, 2 * found.uncertainty) == (110, 10)
    assert Measured.bounded(Interval(100, 120), 8) == Measured(110, 10, 4)


def test_an_exact_measurement_carries_no_risk() -> None:
    assert false_acceptance(199.9, 0.0, LIMIT) == 0.0
    assert false_acceptance(200.1, 0.0, LIMIT) == 1.0
    assert taken(GUARDED, 200.0, u=0.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: Rule("r", -0.1),
        lambda: Rule("r", 1.0, coverage=0.0),
        lambda: Measured(float("nan")),
        lambda: Measured(100.0, deviation=-1.0),
        lambda: Measured(100.0, half=-1.0),
        lambda: Measured(float("inf")),
        lambda: Measured(100.0).above(float("nan")),
        lambda: accepts(SIMPLE, Measured(100.0), float("inf")),
    ],
)
def test_odd_numbers(call) -> None:
    with pytest.raises(TimingError):
        call()
