"""Basic subsystem architectures against pocket-calculator values, the exact form and a simulation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iec62061 import (
    beta_from_score,
    lambda_from_mttfd,
    pfh_a,
    pfh_b,
    pfh_c,
    pfh_d,
    safe_failure_fraction,
    sil_limit,
    sil_of_pfh,
)
from interlock.rating.iso13849 import mttfd_from_b10d

T1 = 175_200.0  # 20 years in hours
CONTACTOR = 0.1 * 7680 / 8760 / 1.3e6  # 6.744e-8 an hour
BUTTON = 0.1 * 7680 / 8760 / 1e5  # 8.767e-7 an hour

# Formulas of the standard from memory; the figures computed apart from the code, 0.5 %.


def test_rate_of_a_contactor() -> None:
    """Same arithmetic as in a maker's manual: 0.1 · nop / B10d."""
    assert lambda_from_mttfd(mttfd_from_b10d(1.3e6, 7680)) == pytest.approx(6.744e-8, rel=0.0005)
    assert lambda_from_mttfd(mttfd_from_b10d(250_000, 5280)) == pytest.approx(241.1e-9, rel=0.0005)


def test_rate_of_an_mttfd() -> None:
    assert lambda_from_mttfd(100) == pytest.approx(1 / 876_000)


def test_architecture_a() -> None:
    found = pfh_a([CONTACTOR, BUTTON])
    assert found == pytest.approx(9.442e-7, rel=0.0005)
    assert sil_of_pfh(found) == 2


def test_architecture_b() -> None:
    assert pfh_b(CONTACTOR, CONTACTOR, 0.02, T1) == pytest.approx(2.114e-9, rel=0.0005)


def test_architecture_c() -> None:
    assert pfh_c([(1e-6, 0.9), (5e-7, 0.6)]) == pytest.approx(3.0e-7, rel=1e-9)


def test_architecture_d_of_equal_elements() -> None:
    """The common cause is 99 % of it."""
    found = pfh_d(CONTACTOR, CONTACTOR, 0.99, 0.99, 0.02, T1, 8760 / 7680)
    assert found == pytest.approx(1.356e-9, rel=0.0005)
    assert pytest.approx(1.349e-9, rel=0.0005) == 0.02 * CONTACTOR


def test_architecture_d_of_different_elements() -> None:
    found = pfh_d(2e-7, 5e-7, 0.9, 0.6, 0.05, T1, 24)
    assert found == pytest.approx(2.145e-8, rel=0.0005)
    assert sil_of_pfh(found) == 3


def test_keyword_arguments() -> None:
    by_name = pfh_d(
        lambda_1=2e-7, lambda_2=5e-7, dc_1=0.9, dc_2=0.6, beta=0.05, proof_test_h=T1, diagnostic_h=24
    )
    assert by_name == pfh_d(2e-7, 5e-7, 0.9, 0.6, 0.05, T1, 24)
    assert pfh_b(lambda_1=1e-7, lambda_2=1e-7, beta=0, proof_test_h=T1) == pytest.approx(1e-14 * T1)
    assert pfh_a(lambdas=[1e-7]) == pfh_c(parts=[(1e-7, 0.0)])


@given(st.floats(1e-9, 1e-6), st.floats(0, 0.99), st.floats(0, 0.2), st.floats(1, 1000))
def test_the_line_for_equal_elements_is_the_same(rate, dc, beta, diagnostic) -> None:
    """6.7.8.2.5, second line: (1-β)²{2λ² DC T2/2 + λ² (1-DC) T1} + βλ."""
    line = (1 - beta) ** 2 * (2 * rate**2 * dc * diagnostic / 2 + rate**2 * (1 - dc) * T1) + beta * rate
    assert pfh_d(rate, rate, dc, dc, beta, T1, diagnostic) == pytest.approx(line, rel=1e-9)


@given(st.floats(1e-9, 1e-6), st.floats(1e-9, 1e-6), st.floats(0, 0.2))
def test_without_coverage_d_is_b(first, second, beta) -> None:
    assert pfh_d(first, second, 0, 0, beta, T1, 24) == pytest.approx(pfh_b(first, second, beta, T1), rel=1e-9)


def test_b_is_cautious_against_the_exact_form() -> None:
    """Both channels lost within T1: (1 - e^-λT)² / T; the formula gives 1.405 times as much at λT 0.35."""
    rate = 0.35 / T1
    exact = (1 - math.exp(-0.35)) ** 2 / T1
    assert pfh_b(rate, rate, 0, T1) / exact == pytest.approx(1.405, rel=0.001)


def test_b_against_simulation() -> None:
    """400 000 pairs of exponential lives: the share lost within T1 is that of the exact form within 2 %."""
    random = np.random.default_rng(20150101)
    rate = 0.35 / T1
    lives = random.exponential(1 / rate, size=(400_000, 2))
    simulated = np.mean(lives.max(axis=1) < T1) / T1
    assert simulated * T1 == pytest.approx((1 - math.exp(-0.35)) ** 2, rel=0.02)
    assert simulated < pfh_b(rate, rate, 0, T1)


def test_d_against_simulation() -> None:
    """A first fault waits for the next diagnostic test (found with DC) or proof test; a second one in it is a loss."""
    random = np.random.default_rng(61)
    rate, dc, diagnostic, interval = 1e-4, 0.6, 100.0, 1000.0
    first = random.uniform(0, interval, 2_000_000)
    found = random.random(first.size) < dc
    wait = np.where(found, diagnostic - first % diagnostic, interval - first)
    lost = 2 * rate * np.mean(-np.expm1(-rate * wait))
    assert pfh_d(rate, rate, dc, dc, 0, interval, diagnostic) == pytest.approx(lost, rel=0.05)
    assert lost < pfh_d(rate, rate, dc, dc, 0, interval, diagnostic)


@given(
    st.floats(1e-9, 1e-6), st.floats(1e-9, 1e-6), st.floats(0, 0.98), st.floats(0, 0.5), st.floats(1.01, 5)
)
def test_a_worse_part_never_improves(first, second, dc, beta, factor) -> None:
    base = pfh_d(first, second, dc, dc, beta, T1, 24)
    assert pfh_d(first * factor, second, dc, dc, beta, T1, 24) >= base
    assert pfh_d(first, second, dc / factor, dc, beta, T1, 24) >= base * (1 - 1e-12)
    assert pfh_d(first, second, dc, dc, beta, T1 * factor, 24) >= base
    assert pfh_a([first * factor, second]) > pfh_a([first, second])
    assert pfh_c([(first * factor, dc)]) >= pfh_c([(first, dc)])
    assert pfh_b(first * factor, second, beta, T1) >= pfh_b(first, second, beta, T1)


@pytest.mark.parametrize(
    ("pfh", "sil"),
    [  # from memory; half-open bands as in ISO 13849-1: the border belongs to the lower SIL
        (9.999e-6, 1),
        (1e-6, 1),
        (9.999e-7, 2),
        (1e-7, 2),
        (9.999e-8, 3),
        (1e-8, 3),
        (1e-12, 3),
    ],
)
def test_sil_bands(pfh, sil) -> None:
    assert sil_of_pfh(pfh) == sil


def test_no_sil_from_1e_5_on() -> None:
    with pytest.raises(RatingError, match="no SIL"):
        sil_of_pfh(1e-5)


def test_safe_failure_fraction() -> None:
    """λS 2e-7, λDD 2.4e-7, λDU 6e-8: 0.88 (computed)."""
    assert safe_failure_fraction(2e-7, 2.4e-7, 6e-8) == pytest.approx(0.88)


@pytest.mark.parametrize(
    ("fraction", "limits"),
    [  # 2005 Table 5, 2021 Table 6 (from memory): HFT 0, 1, 2; None: not allowed
        (0.0, (None, 1, 2)),
        (0.599, (None, 1, 2)),
        (0.60, (1, 2, 3)),
        (0.899, (1, 2, 3)),
        (0.90, (2, 3, 3)),
        (0.989, (2, 3, 3)),
        (0.99, (3, 3, 3)),
    ],
)
def test_limits_of_structure(fraction, limits) -> None:
    for tolerance, limit in enumerate(limits):
        if limit is None:
            with pytest.raises(RatingError, match="not allowed"):
                sil_limit(fraction, tolerance)
        else:
            assert sil_limit(fraction, tolerance) == limit


def test_more_tolerance_never_lowers_the_limit() -> None:
    for fraction in (0.0, 0.6, 0.9, 0.99):
        assert sil_limit(fraction, 1) <= sil_limit(fraction, 2) == sil_limit(fraction, 3)


@pytest.mark.parametrize(
    ("score", "beta"),
    [  # 2005 Table F.2 (from memory); on a border the worse factor
        (0, 0.10),
        (34, 0.10),
        (35, 0.05),
        (65, 0.05),
        (66, 0.02),
        (85, 0.02),
        (86, 0.01),
        (100, 0.01),
    ],
)
def test_common_cause_factor(score, beta) -> None:
    assert beta_from_score(score) == beta


@pytest.mark.parametrize(
    ("call", "args"),
    [
        (pfh_a, ([],)),
        (pfh_a, ([0.0],)),
        (pfh_a, ([241.1],)),  # FIT given as 1/h
        (pfh_a, ([math.nan],)),
        (pfh_a, ([1.001],)),  # no part fails more often than once an hour
        (pfh_b, (1.001, 1e-7, 0.02, T1)),
        (pfh_b, (1e-7, 1.001, 0.02, T1)),
        (pfh_c, ([(1.001, 0.9)],)),
        (pfh_b, (1e-7, 1e-7, 2, T1)),  # per cent given as fraction
        (pfh_b, (1e-7, 1e-7, 0.02, 0)),
        (pfh_b, (1e-7, -1e-7, 0.02, T1)),
        (pfh_c, ([(1e-7, 1.0)],)),  # full coverage
        (pfh_c, ([1e-7],)),
        (pfh_c, ([],)),
        (pfh_d, (1e-7, 1e-7, 1.0, 0.9, 0.02, T1, 24)),
        (pfh_d, (1e-7, 1e-7, 0.9, 0.9, 0.02, T1, 2 * T1)),  # tested more rarely than proof-tested
        (pfh_d, (1e-7, 1e-7, 0.9, 0.9, 0.02, math.inf, 24)),
        (sil_of_pfh, (0,)),
        (sil_limit, (1.0, 1)),
        (sil_limit, (0.9, 0.5)),
        (sil_limit, (0.9, -1)),
        (safe_failure_fraction, (0.0, 0.0, 0.0)),
        (beta_from_score, (101,)),
        (beta_from_score, (-1,)),
        (beta_from_score, ("65",)),
        (beta_from_score, (math.nan,)),
        (lambda_from_mttfd, (0,)),
    ],
)
def test_bad_input(call, args) -> None:
    with pytest.raises(RatingError):
        call(*args)
