"""Discharge of the bus against closed forms, an ODE solver, and the limits of IEC 60204-1."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from interlock.errors import RatingError
from interlock.rating.discharge import (
    back_emf_v,
    discharge_needed,
    energy_j,
    highest_bus_v,
    judge_discharge,
)
from interlock.verdict import Verdict

# Closed forms t = R C ln(V0/V1), computed by hand; limits 60 V, 5 s, 60 µC: IEC 60204-1:2016, 6.2.4 (public page).


@pytest.mark.parametrize(
    ("from_v", "ohm", "farad", "seconds"),
    [
        (400, 2200, 1e-3, 4.174),  # meets 5 s
        (400, 2200 * 1.05, 1.2e-3, 5.259),  # the same with tolerances fails
        (325, 4700, 470e-6, 3.73),
    ],
)
def test_resistor(from_v, ohm, farad, seconds) -> None:
    assert judge_discharge(from_v, (ohm * farad,) * 2).time_s == pytest.approx(seconds, rel=0.001)


def test_resistor_against_an_ode_solver() -> None:
    def below(_, v):
        return v[0] - 60

    below.terminal = True
    found = solve_ivp(lambda _, v: -v / (2200 * 1e-3), (0, 10), [400.0], events=below, rtol=1e-9)
    assert judge_discharge(400, (2.2, 2.2)).time_s == pytest.approx(found.t_events[0][0], rel=1e-6)


def test_energy() -> None:
    assert energy_j(1e-3, 400) == pytest.approx(80)


@pytest.mark.parametrize(
    ("volts", "farad", "needed"),
    [
        (57.6, 1.0, False),  # a 48 V bus charged to 57.6 V never exceeds 60 V
        (60.0, 1.0, False),
        (60.001, 1.0, True),
        (400, None, True),  # capacitance unknown: no exemption
        (560, 0.1e-6, False),  # 56 µC
        (560, 0.15e-6, True),  # 84 µC
        (560, 0.107e-6, False),  # the largest exempt capacitance at 560 V
        (560, 0.1072e-6, True),
        (600, 0.1e-6, False),  # exactly 60 µC
    ],
)
def test_exemptions(volts, farad, needed) -> None:
    assert discharge_needed(volts, farad) is needed


def test_back_emf() -> None:
    """0.18 V·s/rad between lines at 3000 rpm: 56.5 V, below which the bus cannot fall while it turns."""
    assert back_emf_v(0.18, 3000) == pytest.approx(56.5, abs=0.05)
    assert back_emf_v(0, 3000) == 0


def test_highest_bus_voltage_counts_the_unit_that_is_driven() -> None:
    assert highest_bus_v(400, 56.5) == 400
    assert highest_bus_v(48, back_emf_v(0.18, 3000), back_emf_v(0.30, 3000)) == pytest.approx(94.2, abs=0.1)
    assert highest_bus_v(48) == 48


def test_fit_that_meets_the_limit_at_its_slow_end() -> None:
    found = judge_discharge(400, (2.1, 2.3))
    assert found.verdict is Verdict.PASS
    assert found.time_s == pytest.approx(2.3 * math.log(400 / 60))


def test_slow_end_decides() -> None:
    """R C 2.2 s nominal meets 5 s (4.17 s), with +26 % it does not (5.26 s): never a pass."""
    assert judge_discharge(400, (2.2, 2.772)).verdict is Verdict.INCONCLUSIVE
    assert judge_discharge(400, (2.772, 2.9)).verdict is Verdict.FAIL


def test_exactly_the_limit_passes() -> None:
    constant = 5 / math.log(400 / 60)
    assert judge_discharge(400, (constant, constant)).verdict is Verdict.PASS
    assert judge_discharge(400, (constant, constant * 1.0001)).verdict is Verdict.INCONCLUSIVE


def test_exposed_pins_have_one_second() -> None:
    assert judge_discharge(400, (0.5, 0.52), limit_s=1.0).verdict is Verdict.PASS
    assert judge_discharge(400, (0.6, 0.62), limit_s=1.0).verdict is Verdict.FAIL


def test_nothing_to_discharge_takes_no_time() -> None:
    assert judge_discharge(48, (2.1, 2.3)).time_s == 0


def test_back_emf_of_exactly_60_v_needs_no_time() -> None:
    found = judge_discharge(400, (2.1, 2.3), 60.0)
    assert found.verdict is Verdict.PASS
    assert "keeps the bus live" not in found.sentence


def test_low_back_emf_does_not_matter() -> None:
    assert judge_discharge(400, (2.1, 2.3), back_emf_v(0.18, 3000)).verdict is Verdict.PASS


def test_a_turning_unit_keeps_the_bus_live() -> None:
    """0.30 V·s/rad at 3000 rpm is 94 V: until the shaft is below 1910 rpm the bus stays above 60 V."""
    emf = back_emf_v(0.30, 3000)
    found = judge_discharge(400, (2.1, 2.3), emf, emf_below_safe_s=(8.0, 9.0))
    assert found.verdict is Verdict.FAIL
    assert "keeps the bus live" in found.sentence
    assert judge_discharge(400, (2.1, 2.3), emf, emf_below_safe_s=(0.5, 1.0)).verdict is Verdict.PASS


def test_a_turning_unit_without_its_time_is_an_error() -> None:
    with pytest.raises(RatingError, match="give emf_below_safe_s"):
        judge_discharge(400, (2.1, 2.3), 94.2)


def test_a_driven_unit_may_lift_a_harmless_bus() -> None:
    """48 V supply, 94 V back-EMF: the supply alone would need no discharge at all."""
    assert judge_discharge(48, (2.1, 2.3)).verdict is Verdict.PASS
    assert judge_discharge(48, (2.1, 2.3), 94.2, emf_below_safe_s=(6, 7)).verdict is Verdict.FAIL


def bus_time(emf0, tau, supply, below):
    """When the bus is below 60 V if the back-EMF falls evenly to 60 V at `below`: simulated in small steps."""
    dt, v, t = 1e-3, float(supply), 0.0
    while v > 60.0 and t < 100:
        t += dt
        emf = max(0.0, emf0 + (60.0 - emf0) * t / below) if below else 0.0
        v = max(v * math.exp(-dt / tau), emf if t < below else 0.0)
    return t


@given(st.floats(48, 800), st.floats(0.1, 5), st.floats(61, 300), st.floats(0.1, 8))
def test_the_bound_holds_for_a_simulated_bus(supply, tau, emf, below) -> None:
    start = max(supply, emf)
    found = judge_discharge(supply, (tau, tau), emf, emf_below_safe_s=(below, below))
    assert bus_time(emf, tau, start, below) <= found.time_s + 0.01


@given(st.floats(61, 800), st.floats(0.1, 5), st.floats(0, 5))
def test_a_wider_fit_never_decides_more(volts, low, width) -> None:
    narrow = [judge_discharge(volts, (end, end)).verdict for end in (low, low + width)]
    wide = judge_discharge(volts, (low, low + width)).verdict
    assert wide in (*narrow, Verdict.INCONCLUSIVE)
    if wide is Verdict.PASS:
        assert narrow == [Verdict.PASS, Verdict.PASS]


@pytest.mark.parametrize(
    "call",
    [
        lambda: discharge_needed(-1),
        lambda: back_emf_v(-0.1, 3000),
        lambda: back_emf_v(0.1, math.inf),
        lambda: highest_bus_v(0),
        lambda: judge_discharge(400, (2.3, 2.1)),
        lambda: judge_discharge(400, (2.1, math.nan)),
        lambda: judge_discharge(math.nan, (2.1, 2.3)),
        lambda: judge_discharge(400, (2.1, 2.3), 94, (3, 2)),
    ],
)
def test_bad_input(call) -> None:
    with pytest.raises(RatingError):
        call()
