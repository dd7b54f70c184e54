"""Formulas of IEC 61508-6 against Markov models (scipy) and simulation: nobody's formula is reused."""

import numpy as np
import pytest
from rating_oracles import Voting

from interlock.rating.iec61508 import (
    pfd_1oo1,
    pfd_1oo2,
    pfd_2oo2,
    pfd_2oo3,
    pfh_1oo1,
    pfh_1oo2,
    pfh_2oo2,
    pfh_2oo3,
)

CASES = [  # λDU, λDD (1/h), T1, MTTR (h), β, βD
    (1e-6, 1.5e-6, 8760.0, 8.0, 0.10, 0.05),
    (1e-6, 1.5e-6, 8760.0, 8.0, 0.0, 0.0),
    (5e-7, 4.5e-6, 4380.0, 24.0, 0.02, 0.01),
    (2e-8, 3e-8, 87_600.0, 8.0, 0.05, 0.025),
]
PFD = {(1, 1): pfd_1oo1, (2, 1): pfd_1oo2, (2, 2): pfd_2oo2, (3, 2): pfd_2oo3}
PFH = {(1, 1): pfh_1oo1, (2, 1): pfh_1oo2, (2, 2): pfh_2oo2, (3, 2): pfh_2oo3}


@pytest.mark.parametrize("voting", list(PFD))
@pytest.mark.parametrize("case", CASES)
def test_average_probability_against_markov(voting, case) -> None:
    """Measured: the formula lies 0 to 3.7 % above the model (4 % where detected failures last longest)."""
    if voting == (2, 2) and case[4] > 0:
        case = (*case[:4], 0.0, 0.0)
    model = Voting(*voting, *case).pfd()
    assert 0.999 <= PFD[voting](*case) / model <= 1.04


@pytest.mark.parametrize("voting", list(PFH))
@pytest.mark.parametrize("case", CASES)
def test_failures_an_hour_against_markov(voting, case) -> None:
    """Losses that an undetected failure brings about (2010: a detected one is safe); 0 to 1.5 % above the model."""
    if voting == (2, 2) and case[4] > 0:
        case = (*case[:4], 0.0, 0.0)
    model = Voting(*voting, *case).pfh()
    assert 0.999 <= PFH[voting](*case) / model <= 1.02


@pytest.mark.parametrize("case", CASES)
def test_two_in_series_is_cautious_with_common_causes(case) -> None:
    """One common cause hits both: the formula 2λ counts it twice, by at most β."""
    assert 1 <= pfd_2oo2(*case) / Voting(2, 2, *case).pfd() <= 1 + case[4] + 0.03


def simulated_share_down(needed: int, n: int, x: float, beta: float, seed: int) -> float:
    """Mean share of one interval (length 1) in which fewer than `needed` of n channels work; λ T = x each."""
    random = np.random.default_rng(seed)
    own = random.exponential(1 / ((1 - beta) * x), size=(400_000, n))
    common = random.exponential(1 / (beta * x), size=(400_000, 1)) if beta else np.full((400_000, 1), np.inf)
    dead = np.sort(np.minimum(own, common), axis=1)
    lost = dead[:, n - needed]  # when one more than can be spared is gone
    return float(np.mean(np.clip(1 - lost, 0, None)))


@pytest.mark.parametrize(
    ("call", "n", "needed", "beta", "tolerance"),
    [
        (pfd_1oo1, 1, 1, 0.0, 0.04),
        (pfd_1oo2, 2, 1, 0.0, 0.08),
        (pfd_1oo2, 2, 1, 0.10, 0.05),
        (pfd_2oo2, 2, 2, 0.0, 0.06),
        (pfd_2oo3, 3, 2, 0.0, 0.10),
        (pfd_2oo3, 3, 2, 0.10, 0.08),
    ],
)
def test_average_probability_against_simulation(call, n, needed, beta, tolerance) -> None:
    """400 000 intervals without repair, λ T1 0.05; the formula is on the cautious side of them."""
    interval, x = 1000.0, 0.05
    found = call(x / interval, 0.0, interval, 0.0, beta, 0.0)
    simulated = simulated_share_down(needed, n, x, beta, seed=61508 + n)
    assert found == pytest.approx(simulated, rel=tolerance)
    assert found > simulated * 0.99


def test_losses_of_two_channels_against_simulation() -> None:
    """The share of intervals in which both are gone, over the interval: pfh of 1oo2 within 9 %, cautious."""
    random = np.random.default_rng(612)
    interval, x = 1000.0, 0.05
    dead = random.exponential(1 / x, size=(1_000_000, 2)).max(axis=1)
    simulated = float(np.mean(dead < 1)) / interval
    assert pfh_1oo2(x / interval, 0.0, interval, 0.0) == pytest.approx(simulated, rel=0.09)
    assert pfh_1oo2(x / interval, 0.0, interval, 0.0) > simulated
