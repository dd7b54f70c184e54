"""Formulas of IEC 61508-6 against its printed tables, figures computed apart, and what must hold of them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating import iec61508
from interlock.rating.iec61508 import (
    down_time_h,
    interval_with_imperfect_test_h,
    pfd_1oo1,
    pfd_1oo2,
    pfd_1oo2d,
    pfd_2oo2,
    pfd_2oo3,
    pfh_1oo1,
    pfh_1oo2,
    pfh_1oo2d,
    pfh_2oo2,
    pfh_2oo3,
    sil_of_pfd,
)

YEAR = 8760.0
CHANNEL = {"lambda_du": 1e-6, "lambda_dd": 1.5e-6, "proof_test_h": YEAR, "mttr_h": 8}  # λD 2.5e-6, DC 60 %
COMMON = {"beta": 0.10, "beta_d": 0.05}
ALL = [pfd_1oo1, pfd_1oo2, pfd_2oo2, pfd_2oo3, pfh_1oo1, pfh_1oo2, pfh_2oo2, pfh_2oo3]


@pytest.mark.parametrize(
    ("interval", "dc", "printed"),
    [  # Tables B.2 and B.3, 1oo1, λD 0.5e-7, MTTR 8 h (from memory, reproduced); two digits
        (4380, 0.00, "1.1e-04"),
        (4380, 0.60, "4.4e-05"),
        (4380, 0.90, "1.1e-05"),
        (4380, 0.99, "1.5e-06"),
        (8760, 0.00, "2.2e-04"),
        (8760, 0.60, "8.8e-05"),
        (8760, 0.90, "2.2e-05"),
        (8760, 0.99, "2.6e-06"),
    ],
)
def test_printed_tables(interval, dc, printed) -> None:
    rate = 0.5e-7
    assert f"{pfd_1oo1(rate * (1 - dc), rate * dc, interval, 8):.1e}" == printed


@pytest.mark.parametrize(
    ("call", "expected"),
    [  # λD 2.5e-6, DC 60 %, one year, β 10 %, βD 5 %, 8 h; formulas from memory, figures computed apart
        (pfd_1oo1, 4.400e-3),
        (pfd_1oo2, 4.618e-4),
        (pfd_2oo2, 8.800e-3),
        (pfd_2oo3, 5.065e-4),
        (pfh_1oo1, 1.000e-6),
        (pfh_1oo2, 1.0737e-7),
        (pfh_2oo2, 2.000e-6),
        (pfh_2oo3, 1.2210e-7),
    ],
)
def test_worked_figures(call, expected) -> None:
    assert call(**CHANNEL, **COMMON) == pytest.approx(expected, rel=0.0005)


def test_worked_figure_of_1oo2d() -> None:
    assert pfd_1oo2d(lambda_sd=1.5e-6, **CHANNEL, **COMMON) == pytest.approx(4.610e-4, rel=0.0005)


def test_1oo2d_without_safe_failures_and_with_right_switching_has_no_more_than_1oo2() -> None:
    """With K 1 and no common cause it differs from 1oo2 by the pairs of detected failures only."""
    plain = pfd_1oo2(**CHANNEL)
    diagnosed = pfd_1oo2d(lambda_sd=0.0, **CHANNEL)
    assert diagnosed < plain
    assert pfd_1oo2d(lambda_sd=0.0, switching=0.9, **CHANNEL) > diagnosed


def test_1oo2d_switching_that_fails_costs_failures_an_hour() -> None:
    """2(1-K)λDD is added: K 0.98 and λDD 1.5e-6 give 6e-8 (computed)."""
    good = pfh_1oo2d(lambda_sd=1.5e-6, **CHANNEL, **COMMON)
    assert pfh_1oo2d(lambda_sd=1.5e-6, switching=0.98, **CHANNEL, **COMMON) - good == pytest.approx(6e-8)


def test_mean_down_time() -> None:
    """Public slides on Annex B: tCE = (λDU/λD)(T1/2 + MRT) + (λDD/λD) MTTR."""
    assert down_time_h(1e-6, 1.5e-6, 8760, 8) == pytest.approx(0.4 * (4380 + 8) + 0.6 * 8)
    assert down_time_h(1e-6, 1.5e-6, 8760, 8, among=3) == pytest.approx(0.4 * (2920 + 8) + 0.6 * 8)


def test_positional_and_default_arguments() -> None:
    for call in ALL:
        assert call(1e-6, 1.5e-6, 8760, 8) == call(**CHANNEL, beta=0, beta_d=0)


def test_common_cause_does_not_touch_single_channels() -> None:
    for call in (pfd_1oo1, pfd_2oo2, pfh_1oo1, pfh_2oo2):
        assert call(**CHANNEL, **COMMON) == call(**CHANNEL)


RATES = st.floats(1e-9, 1e-6)


@given(RATES, RATES, st.floats(100, 20 * YEAR), st.floats(0, 100), st.floats(0, 0.5), st.floats(1.01, 3))
def test_worse_inputs_never_improve(du, dd, interval, mttr, beta, factor) -> None:
    for call in ALL:
        base = call(du, dd, interval, mttr, beta, beta / 2)
        assert call(du * factor, dd, interval, mttr, beta, beta / 2) >= base * (1 - 1e-9)
        assert call(du, dd, interval * factor, mttr, beta, beta / 2) >= base * (1 - 1e-9)
        assert call(du, dd, interval, mttr * factor, beta, beta / 2) >= base * (1 - 1e-9)


@given(RATES, RATES, st.floats(100, 20 * YEAR), st.floats(0, 100))
def test_order_of_the_votings(du, dd, interval, mttr) -> None:
    """Two of which one suffices is better than three of which two must, that than one, that than two in series."""
    args = (du, dd, interval, mttr)
    assert pfd_1oo2(*args) < pfd_2oo3(*args)
    assert pfd_1oo1(*args) < pfd_2oo2(*args) == 2 * pfd_1oo1(*args)
    assert pfh_1oo2(*args) < pfh_2oo3(*args)
    assert pfh_1oo1(*args) < pfh_2oo2(*args)


@given(RATES, RATES, st.floats(100, YEAR), st.floats(0, 100), st.floats(0.001, 0.5))
def test_common_cause_costs(du, dd, interval, mttr, beta) -> None:
    for call in (pfd_1oo2, pfd_2oo3, pfh_1oo2, pfh_2oo3):
        assert call(du, dd, interval, mttr, beta, 0) > call(du, dd, interval, mttr)


def test_imperfect_proof_test() -> None:
    """B.3.2.5 (from memory) for 1oo1: λDU · PTC · (T1/2 + MRT) + λDU · (1-PTC) · (T2/2 + MRT) + λDD · MTTR."""
    coverage, lifetime = 0.9, 20 * YEAR
    by_hand = 1e-6 * 0.9 * (YEAR / 2 + 8) + 1e-6 * 0.1 * (lifetime / 2 + 8) + 1.5e-6 * 8
    interval = interval_with_imperfect_test_h(YEAR, coverage, lifetime)
    assert pfd_1oo1(1e-6, 1.5e-6, interval, 8) == pytest.approx(by_hand, rel=1e-12)


def test_imperfect_proof_test_of_two_channels() -> None:
    """B.3.2.5 (from memory): tCE, tGE and the common cause each with their two parts."""
    c, t2, du, dd, beta, beta_d = 0.9, 20 * YEAR, 1e-6, 1.5e-6, 0.10, 0.05
    share_du, share_dd = du / (du + dd), dd / (du + dd)
    t_ce = share_du * (c * (YEAR / 2 + 8) + (1 - c) * (t2 / 2 + 8)) + share_dd * 8
    t_ge = share_du * (c * (YEAR / 3 + 8) + (1 - c) * (t2 / 3 + 8)) + share_dd * 8
    common = beta_d * dd * 8 + beta * du * (c * (YEAR / 2 + 8) + (1 - c) * (t2 / 2 + 8))
    by_hand = 2 * ((1 - beta_d) * dd + (1 - beta) * du) ** 2 * t_ce * t_ge + common
    interval = interval_with_imperfect_test_h(YEAR, c, t2)
    assert pfd_1oo2(du, dd, interval, 8, beta, beta_d) == pytest.approx(by_hand, rel=1e-12)


def test_a_test_that_finds_everything_or_nothing() -> None:
    assert interval_with_imperfect_test_h(YEAR, 1, 20 * YEAR) == YEAR
    assert interval_with_imperfect_test_h(YEAR, 0, 20 * YEAR) == 20 * YEAR
    assert interval_with_imperfect_test_h(YEAR, 0.9, YEAR) == pytest.approx(YEAR)
    with pytest.raises(RatingError, match="at least the proof-test interval"):
        interval_with_imperfect_test_h(YEAR, 0.9, YEAR / 2)


@pytest.mark.parametrize(
    ("pfd", "sil"),
    [  # IEC 61508-1, low demand (from memory); the border belongs to the lower SIL
        (9.999e-2, 1),
        (1e-2, 1),
        (9.999e-3, 2),
        (1e-3, 2),
        (9.999e-4, 3),
        (1e-4, 3),
        (9.999e-5, 4),
        (1e-5, 4),
        (1e-9, 4),
    ],
)
def test_low_demand_bands(pfd, sil) -> None:
    assert sil_of_pfd(pfd) == sil


def test_no_sil_from_a_tenth_on() -> None:
    with pytest.raises(RatingError, match="no SIL"):
        sil_of_pfd(0.1)


BAD = {
    "lambda_du": [0, -1e-6, math.nan, math.inf, None, 241.1],
    "lambda_dd": [-1e-9, math.nan, math.inf, None, 1.0],
    "proof_test_h": [0, -1, math.nan, math.inf, None, "year"],
    "mttr_h": [-1, math.nan, math.inf, None],
    "beta": [-0.1, 1.1, 10, math.nan, None],
    "beta_d": [-0.1, 1.1, math.nan, None],
}


@pytest.mark.parametrize("call", ALL)
@pytest.mark.parametrize(
    ("name", "value"), [(name, value) for name, values in BAD.items() for value in values]
)
def test_bad_input(call, name, value) -> None:
    """A rate of 0 undetected failures is a coverage of 100 %: nothing finds everything."""
    with pytest.raises(RatingError):
        call(**{**CHANNEL, **COMMON, name: value})


def test_no_probability_above_one() -> None:
    with pytest.raises(RatingError, match=r"only while λ · T1 is well below 1"):
        pfd_1oo1(1e-3, 0, 20 * YEAR, 8)


def test_every_public_formula_is_tested_here() -> None:
    names = {name for name in iec61508.__all__ if name.startswith(("pfd", "pfh"))}
    tested = {name for name in names if getattr(iec61508, name) in ALL}
    assert names == tested | {"pfd_1oo2d", "pfh_1oo2d"}
