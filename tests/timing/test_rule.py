"""The decision rules against printed probabilities, simulation and a two-dimensional normal distribution."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal

from interlock.timing.inputs import TimingError
from interlock.timing.rule import (
    GUARDED,
    SIMPLE,
    Prior,
    Rule,
    Statement,
    decide,
    false_acceptance,
    largest_false_acceptance,
    overall_risks,
)
from interlock.verdict import Verdict

LIMIT = 200.0
BEFORE, AFTER = 1_000, 2_000


def ruled(rule, measured, u=4.5, **more):
    return decide(Statement(rule, LIMIT, BEFORE), measured, u, AFTER, **more)


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
    ("rule", "measured", "verdict"),
    [
        (SIMPLE, 200.0, Verdict.PASS),
        (SIMPLE, 200.001, Verdict.FAIL),
        (GUARDED, 191.0, Verdict.PASS),
        (GUARDED, 191.001, Verdict.INCONCLUSIVE),
        (GUARDED, 200.0, Verdict.INCONCLUSIVE),
        (GUARDED, 209.0, Verdict.INCONCLUSIVE),
        (GUARDED, 209.001, Verdict.FAIL),
    ],
)
def test_where_each_rule_accepts(rule, measured, verdict) -> None:
    """Limit 200, u 4.5, U 9."""
    found = ruled(rule, measured)
    assert found.verdict is verdict
    assert found.acceptance_limit == LIMIT - (9.0 if rule is GUARDED else 0.0)
    assert rule.name in found.sentence


def test_the_risk_at_the_acceptance_limit_is_the_largest() -> None:
    assert ruled(GUARDED, 191.0).false_acceptance == pytest.approx(largest_false_acceptance(GUARDED))
    assert ruled(SIMPLE, 200.0).false_acceptance == pytest.approx(largest_false_acceptance(SIMPLE))


def test_a_rule_stated_afterwards_is_none() -> None:
    late = Statement(GUARDED, LIMIT, AFTER + 1)
    with pytest.raises(TimingError, match="stated after the measurement"):
        decide(late, 150.0, 4.5, AFTER)
    assert decide(replace(late, stated_ns=AFTER), 150.0, 4.5, AFTER).verdict is Verdict.PASS


@given(st.floats(100, 300), st.floats(0.01, 50), st.floats(0, 3), st.floats(0, 1))
def test_a_wider_guard_never_passes_more(measured, u, guard, more) -> None:
    narrow, wide = (ruled(Rule("r", r), measured, u).verdict for r in (guard, guard + more))
    if wide is Verdict.PASS:
        assert narrow is Verdict.PASS
    if narrow is Verdict.INCONCLUSIVE:
        assert wide is Verdict.INCONCLUSIVE


@given(st.floats(100, 300), st.floats(0.01, 50), st.floats(0, 3))
def test_no_pass_carries_more_than_the_stated_risk(measured, u, guard) -> None:
    found = ruled(Rule("r", guard), measured, u)
    if found.verdict is Verdict.PASS:
        assert found.false_acceptance <= largest_false_acceptance(Rule("r", guard)) + 1e-12


def test_what_was_known_before_counts() -> None:
    """Equal spreads: the mean lies half way, its spread is u/√2; by hand Φ((195 - 200)/(4/√2)) = 0.0385."""
    prior = Prior(190.0, 4.0)
    assert false_acceptance(200.0, 4.0, LIMIT, prior) == pytest.approx(0.0385, abs=1e-4)
    assert ruled(SIMPLE, 200.0, u=4.0, prior=prior).false_acceptance == pytest.approx(0.0385, abs=1e-4)


def test_a_vague_prior_changes_nothing() -> None:
    vague = Prior(0.0, 1e6)
    assert false_acceptance(197.0, 4.0, LIMIT, vague) == pytest.approx(
        false_acceptance(197.0, 4.0, LIMIT), rel=1e-3
    )


def test_the_prior_against_a_simulation() -> None:
    """Two million true values and measurements; those measured near 203 tell the probability."""
    random = np.random.default_rng(106)
    true = random.normal(195, 5, 2_000_000)
    measured = true + random.normal(0, 4, len(true))
    near = np.abs(measured - 203) < 0.2
    expected = false_acceptance(203.0, 4.0, LIMIT, Prior(195.0, 5.0))
    assert np.mean(true[near] > LIMIT) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("rule", [SIMPLE, GUARDED, Rule("half", 0.5)])
@pytest.mark.parametrize(("u", "deviation"), [(4.5, 6.0), (1.0, 10.0), (10.0, 1.0), (0.01, 5.0)])
def test_overall_risks_against_the_bivariate_normal(rule, u, deviation) -> None:
    """True and measured value are jointly normal: scipy's multivariate distribution as the oracle."""
    prior = Prior(192.0, deviation)
    spread = np.array([[deviation**2, deviation**2], [deviation**2, deviation**2 + u**2]])
    joint = multivariate_normal([192.0, 192.0], spread)
    accept = LIMIT - rule.band(u)
    both = joint.cdf([LIMIT, accept])
    accepted = multivariate_normal(192.0, spread[1, 1]).cdf(accept)
    conforming = multivariate_normal(192.0, spread[0, 0]).cdf(LIMIT)
    consumer, producer = overall_risks(rule, u, LIMIT, prior)
    assert consumer == pytest.approx(accepted - both, abs=2e-5)
    assert producer == pytest.approx(conforming - both, abs=2e-5)


def test_a_guard_band_trades_one_risk_for_the_other() -> None:
    prior = Prior(190.0, 6.0)
    simple, guarded = overall_risks(SIMPLE, 4.5, LIMIT, prior), overall_risks(GUARDED, 4.5, LIMIT, prior)
    assert guarded[0] < simple[0] / 10
    assert guarded[1] > simple[1]


def test_an_exact_measurement_carries_no_risk() -> None:
    assert false_acceptance(199.9, 0.0, LIMIT) == 0.0
    assert false_acceptance(200.1, 0.0, LIMIT) == 1.0
    assert ruled(GUARDED, 200.0, u=0.0).verdict is Verdict.PASS


@pytest.mark.parametrize(
    "call",
    [
        lambda: Rule("r", -0.1),
        lambda: Rule("r", 1.0, coverage=0.0),
        lambda: Prior(0.0, 0.0),
        lambda: Prior(float("nan"), 1.0),
        lambda: ruled(SIMPLE, float("nan")),
        lambda: ruled(SIMPLE, 100.0, u=-1.0),
        lambda: ruled(SIMPLE, float("inf")),
        lambda: overall_risks(SIMPLE, 0.0, LIMIT, Prior(0.0, 1.0)),
    ],
)
def test_odd_numbers(call) -> None:
    with pytest.raises(TimingError):
        call()
