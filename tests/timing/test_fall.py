"""The discharge fit against worked cases, an integrator and its own stated coverage."""

from math import exp, log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from timing_records import QUIET, Noise, as_ns, fall_record, seconds

from interlock.timing.decision import judge
from interlock.timing.fall import fit_fall, unseen
from interlock.timing.inputs import NotIdentified, TimingError
from interlock.verdict import Verdict

TRIALS = 200
METER = Noise(1.0)


def fit(tau=2.2, start=400.0, noise=METER, seed=1, floor_v=30.0, offset_v=0.0, **more):
    record = fall_record(tau, start, noise, np.random.default_rng(seed), **more)
    return fit_fall(*record, floor_v=floor_v, offset_v=offset_v)


def judged(fall, highest_v=400.0, limit_ns=5 * 10**9):
    """The decision that a record comes to, from a voltage to 60 V."""
    return judge(fall.time(highest_v, 60.0), limit_ns)


@pytest.mark.parametrize(
    ("ohm", "farad", "volts", "printed"),
    [  # R · C · ln(V0/60), worked cases, three decimals
        (2200, 1e-3, 400, 4.174),
        (2200 * 1.05, 1.2e-3, 400, 5.259),
        (4700, 470e-6, 325, 3.73),
    ],
)
def test_worked_cases(ohm, farad, volts, printed) -> None:
    time = fit(ohm * farad, volts, QUIET).time(volts, 60)
    assert time.lo / 1e9 == pytest.approx(printed, abs=0.003)
    assert time.hi / 1e9 == pytest.approx(printed, abs=0.003)


@settings(max_examples=30)
@given(tau=st.floats(0.05, 20), start=st.floats(100, 900))
def test_without_noise_the_truth_is_found(tau, start) -> None:
    found = fit(tau, start, QUIET, period=tau / 40)
    assert found.tau_s == pytest.approx(tau, rel=1e-5)
    assert found.shortest_s <= found.tau_s <= found.longest_s


@pytest.mark.parametrize(
    ("noise", "start", "floor_v"),
    [
        (Noise(0.1), 400.0, 30.0),
        (Noise(1.0), 400.0, 30.0),
        (Noise(10.0), 400.0, 40.0),
        (Noise(2.0), 120.0, 20.0),
        (Noise(1.0, memory=0.4), 400.0, 30.0),
        (Noise(1.0, dropped=0.01), 400.0, 30.0),
        (Noise(0.4, step=1.0), 400.0, 30.0),
    ],
    ids=["quiet", "usual", "loud", "low", "filtered", "dropped", "coarse"],
)
def test_the_stated_95_per_cent_are_92_to_98(noise, start, floor_v) -> None:
    """Of 200 made records that fit, how many bands hold the true time to 60 V from 400 V."""
    random, truth = np.random.default_rng(60204), round(2.2 * log(400 / 60) * 1e9)
    held = used = 0
    for _ in range(TRIALS):
        found = fit_fall(*fall_record(2.2, start, noise, random, period=0.02), floor_v=floor_v)
        if found.fits:
            held, used = held + (truth in found.time(400, 60)), used + 1
    assert used > 0.85 * TRIALS
    assert 0.92 <= held / used <= 0.98


@pytest.mark.parametrize(
    ("limit_s", "verdict"), [(5.0, Verdict.PASS), (4.174, Verdict.INCONCLUSIVE), (4.0, Verdict.FAIL)]
)
def test_the_slow_end_decides(limit_s, verdict) -> None:
    assert judged(fit(), limit_ns=round(limit_s * 1e9)) is verdict


def test_pass_only_up_to_the_upper_end() -> None:
    found = fit()
    time = found.time(400, 60)
    assert judged(found, limit_ns=time.hi) is Verdict.PASS
    assert judged(found, limit_ns=time.hi - 1) is Verdict.INCONCLUSIVE
    assert judged(found, limit_ns=time.lo - 1) is Verdict.FAIL


def test_a_test_from_a_lower_voltage_is_judged_from_the_highest() -> None:
    """Seen from 300 V within 5 s, but not from 800 V: ln(800/60) · 2.2 s = 5.7 s."""
    assert judged(fit(start=300.0), 300.0) is Verdict.PASS
    assert judged(fit(start=300.0), 800.0) is Verdict.FAIL


def test_what_is_left_at_the_limit() -> None:
    """400 V · exp(-5 s / 2.2 s) = 41.2 V."""
    low, high = fit().remaining_v(400.0, 5.0)
    assert low < 400 * exp(-5 / 2.2) < high
    assert high - low < 2


def test_whole_nanoseconds_are_rounded_outwards() -> None:
    found, ratio = fit(), log(400 / 60) * 1e9
    time = found.time(400, 60)
    assert time.lo <= found.shortest_s * ratio < time.lo + 1
    assert time.hi - 1 < found.longest_s * ratio <= time.hi


def test_both_ways_of_asking_agree() -> None:
    """At the time of the upper bound the greatest voltage left is the safe one."""
    found = fit()
    assert found.remaining_v(400, found.time(400, 60).hi / 1e9)[1] == pytest.approx(60, rel=1e-6)


def test_too_far_from_what_was_recorded() -> None:
    """From 100 V to 60 V seen, 1000 V asked for."""
    found = fit(1.0, 100.0, Noise(0.1), floor_v=55.0, period=0.005)
    assert unseen(found, 1000.0, 60.0) == pytest.approx(1 - log(100 / 60) / log(1000 / 60), abs=0.01)
    assert unseen(found, 90.0, 60.0) == 0.0


def two_steps(t):
    """A bleeder of 1 s constant that is released at 100 V, then one of 6 s: should fail to fit."""
    turn = log(400 / 100)
    return np.where(t < turn, 400 * np.exp(-t), 100 * np.exp(-(t - turn) / 6))


def constant_power(t):
    """1 mF, 20 W: dV/dt = -P/(C V), integrated by scipy (400 to 60 V in 3.91 s, worked case)."""
    until = min(float(t[-1]), 3.91)
    found = solve_ivp(
        lambda _, v: -20 / (1e-3 * v), (0, until), [400.0], dense_output=True, rtol=1e-10, atol=1e-10
    )
    return found.sol(np.minimum(t, until))[0]


@pytest.mark.parametrize("shape", [two_steps, constant_power, lambda t: 60 + 340 * np.exp(-t / 1.5)])
def test_no_single_exponential_is_said_to_be_none(shape) -> None:
    """Two bleeders, a load of constant power, and a unit that keeps the bus at 60 V by turning."""
    instants = seconds(3.9, 0.01)
    shown = METER.on(shape(instants), np.random.default_rng(2))
    assert not fit_fall(as_ns(instants), shown, floor_v=30.0).fits


def test_the_single_bleeder_fits() -> None:
    """The passing twin of the cases above."""
    assert fit().fits


def test_constant_power_case_is_the_printed_one() -> None:
    assert constant_power(np.array([0.0, 3.91]))[1] == pytest.approx(60, abs=0.1)


@pytest.mark.parametrize("error", [-3.0, 3.0])
def test_a_steady_error_of_the_meter_is_held(error) -> None:
    """A meter that shows 3 V too much all the time: outside the plain band, inside the stated one."""
    instants = seconds(6.0, 0.02)
    shown = Noise(0.05).on(400 * np.exp(-instants / 2.2) + error, np.random.default_rng(3))
    plain = fit_fall(as_ns(instants), shown, floor_v=30.0)
    stated = fit_fall(as_ns(instants), shown, floor_v=30.0, offset_v=3.0)
    assert not plain.shortest_s <= 2.2 <= plain.longest_s
    assert stated.shortest_s <= 2.2 <= stated.longest_s


def test_the_gain_of_the_meter_does_not_matter() -> None:
    times, volts = fall_record(2.2, 400.0, METER, np.random.default_rng(3))
    one, two = fit_fall(times, volts, floor_v=30.0), fit_fall(times, 1.1 * volts, floor_v=33.0)
    assert two.longest_s == pytest.approx(one.longest_s, rel=1e-6)


@pytest.mark.parametrize(
    ("volts", "reason"),
    [
        (np.full(100, 400.0), "does not fall"),
        (np.linspace(60, 400, 100), "does not fall"),
        (np.linspace(400, 60, 6), "6 samples"),
    ],
)
def test_records_that_show_no_discharge(volts, reason) -> None:
    with pytest.raises(NotIdentified, match=reason):
        fit_fall(as_ns(np.arange(len(volts)) * 0.01), volts, floor_v=30.0)


def test_a_bus_that_hardly_falls_in_noise_never_passes() -> None:
    random, verdicts = np.random.default_rng(5), set()
    for _ in range(60):
        try:
            fall = fit_fall(*fall_record(500.0, 400.0, Noise(5.0), random, until=3.0), floor_v=30.0)
        except NotIdentified:
            continue
        verdicts.add(
            judged(fall, limit_ns=10**12) if unseen(fall, 400.0, 60.0) <= 0.5 else Verdict.INCONCLUSIVE
        )
    assert Verdict.PASS not in verdicts


def test_wrong_passes_are_as_rare_as_stated() -> None:
    random, limit = np.random.default_rng(12), int(2.2 * log(400 / 60) * 1e9) - 1
    falls = [fit_fall(*fall_record(2.2, 400.0, METER, random), floor_v=30.0) for _ in range(300)]
    assert np.mean([judged(one, limit_ns=limit) is Verdict.PASS for one in falls]) < 0.05


WANDER = 0.02
"""Seconds: stamps are late by 0 to this."""


@pytest.mark.parametrize("turn", [0.8, 1.2, 1.5])
@pytest.mark.parametrize("first", [True, False], ids=["early ones late", "late ones late"])
def test_stamps_that_are_late_in_the_worst_way_are_held(turn, first) -> None:
    """The samples on one side of a moment are stamped late: outside the plain band, inside the stated one."""
    times, volts = fall_record(2.2, 400.0, QUIET, np.random.default_rng(4), period=0.025)
    late = (times < turn * 10**9) == first
    shown = np.maximum.accumulate(times + np.where(late, round(WANDER * 1e9), 0))
    plain, stated = (
        fit_fall(shown, volts, floor_v=30.0),
        fit_fall(shown, volts, floor_v=30.0, wander_s=WANDER),
    )
    assert not plain.shortest_s <= 2.2 <= plain.longest_s
    assert stated.shortest_s <= 2.2 <= stated.longest_s


@settings(max_examples=40)
@given(st.integers(0, 2**32), st.floats(0.5, 5.0), st.sampled_from([0.002, 0.01, 0.02]))
def test_any_lateness_within_what_is_stated_is_held(seed, tau, wander) -> None:
    random = np.random.default_rng(seed)
    times, volts = fall_record(tau, 400.0, QUIET, random, period=tau / 60)
    signs = random.random(len(times)) < random.choice([0.5, np.linspace(0, 1, len(times)).mean()])
    shown = np.maximum.accumulate(times + (signs * wander * 1e9).astype(np.int64))
    found = fit_fall(shown, volts, floor_v=30.0, wander_s=wander)
    assert found.shortest_s <= tau * (1 + 1e-6)
    assert found.longest_s >= tau * (1 - 1e-6)


def test_a_delay_that_all_stamps_share_changes_nothing_and_a_wider_range_only_widens() -> None:
    times, volts = fall_record(2.2, 400.0, METER, np.random.default_rng(3))
    bands = [fit_fall(times + 10**7, volts, floor_v=30.0, wander_s=one) for one in (0.0, 0.001, 0.01)]
    plain = fit_fall(times, volts, floor_v=30.0)
    assert (bands[0].shortest_s, bands[0].longest_s) == (plain.shortest_s, plain.longest_s)
    assert bands[0].shortest_s > bands[1].shortest_s > bands[2].shortest_s
    assert bands[0].longest_s < bands[1].longest_s < bands[2].longest_s


def test_odd_questions() -> None:
    with pytest.raises(TimingError, match="confidence"):
        fit_fall(as_ns(np.arange(40) * 0.1), 400 * np.exp(-np.arange(40) / 22), floor_v=30.0, confidence=0.0)
    with pytest.raises(TimingError, match="wander_s"):
        fit_fall(as_ns(np.arange(40) * 0.1), 400 * np.exp(-np.arange(40) / 22), floor_v=30.0, wander_s=-1.0)
    with pytest.raises(TimingError, match="higher voltage first"):
        fit().time(60, 400)
    with pytest.raises(TimingError, match="floor above the steady error"):
        fit(floor_v=2.0, offset_v=3.0)
    with pytest.raises(NotIdentified, match="6 samples"):
        fit_fall(as_ns(np.arange(6)), np.linspace(400, 60, 6), floor_v=30.0)
