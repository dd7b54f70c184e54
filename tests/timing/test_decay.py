"""The closed forms against a numerical integrator, printed cases and themselves."""

import math

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from interlock.timing.decay import decayed, gradient, time_between

RPM = math.tau / 60
TOP = 3000 * RPM
INERTIA = 0.045


@pytest.mark.parametrize(
    ("coulomb", "viscous", "low", "printed"),
    [  # worked cases, J 0.045 kg·m², 3000 rpm; printed to two decimals, made with an ODE solver
        (0.35, 0.0012, 0.0, 27.41),
        (0.35, 0.0, 0.0, 40.39),
        (0.35, 0.0012, 10 * RPM, 27.28),
    ],
)
def test_worked_cases(coulomb, viscous, low, printed) -> None:
    assert time_between(coulomb / INERTIA, viscous / INERTIA, TOP, low) == pytest.approx(printed, abs=0.006)


@pytest.mark.parametrize(
    ("ohm", "farad", "volts", "printed"),
    [  # R · C · ln(V0/60): worked cases of a bleeder, three decimals
        (2200, 1e-3, 400, 4.174),
        (2200 * 1.05, 1.2e-3, 400, 5.259),
        (4700, 470e-6, 325, 3.73),
    ],
)
def test_a_capacitor_is_the_case_without_coulomb_friction(ohm, farad, volts, printed) -> None:
    assert time_between(0.0, 1 / (ohm * farad), volts, 60) == pytest.approx(printed, abs=0.003)


@pytest.mark.parametrize(("a", "k"), [(7.8, 0.027), (7.8, 0.0), (0.1, 0.5), (30.0, -0.01), (5.0, 1e-9)])
def test_against_an_integrator(a, k) -> None:
    """scipy's solve_ivp (Dormand and Prince) as the oracle."""
    t = np.linspace(0, 4, 40)
    found = solve_ivp(lambda _, x: -(a + k * x), (0, 4), [200.0], t_eval=t, rtol=1e-11, atol=1e-11)
    assert decayed(200.0, a, k, t) == pytest.approx(found.y[0], rel=1e-8)


@pytest.mark.parametrize("k", [0.3, 0.0, -0.2, 1e-7, 1e-5, 2e-4])
def test_gradient_against_differences(k) -> None:
    t = np.linspace(0, 3, 30)
    at = np.array([100.0, 8.0, k])
    for column in range(3):
        step = np.zeros(3)
        step[column] = 1e-5
        slope = (decayed(*(at + step), t) - decayed(*(at - step), t)) / 2e-5
        assert gradient(*at, t)[:, column] == pytest.approx(slope, abs=2e-5, rel=1e-5)


@example(a=2.0, k=5e-324, high=1.0, share=0.0)  # found by chance: the smallest k of all
@given(
    a=st.floats(0.01, 100),
    k=st.floats(0, 2),
    high=st.floats(1, 500),
    share=st.floats(0, 1),
)
def test_the_time_found_leads_to_the_value(a, k, high, share) -> None:
    low = high * share
    seconds = time_between(a, k, high, low)
    reached = float(decayed(high, a, k, np.array([seconds]))[0])
    assert reached == pytest.approx(low, abs=1e-6 * high)


@given(a=st.floats(0.01, 100), k=st.floats(0, 2), high=st.floats(1, 500), part=st.floats(0, 1))
def test_times_add_up(a, k, high, part) -> None:
    middle = high * part
    whole = time_between(a, k, high, middle) + time_between(a, k, middle, 0.0)
    assert whole == pytest.approx(time_between(a, k, high, 0.0), rel=1e-9)


@given(a=st.floats(0.01, 100), k=st.floats(0, 2), high=st.floats(1, 500), more=st.floats(1e-6, 10))
def test_more_friction_is_never_slower(a, k, high, more) -> None:
    base = time_between(a, k, high, 0.0)
    assert time_between(a + more, k, high, 0.0) <= base
    assert time_between(a, k + more, high, 0.0) <= base


@given(a=st.floats(0.1, 100), high=st.floats(1, 500), k=st.floats(-1e-9, 1e-9))
def test_no_jump_where_the_viscous_part_vanishes(a, high, k) -> None:
    assert time_between(a, k, high, 0.0) == pytest.approx(high / a, rel=1e-5)


@pytest.mark.parametrize(
    ("a", "k", "low"),
    [(0.0, 0.5, 0.0), (-1.0, 0.5, 1.0), (0.0, 0.0, 1.0), (1.0, -0.02, 0.0), (-5.0, 0.0, 0.0)],
)
def test_a_shaft_that_never_gets_there(a, k, low) -> None:
    """Without Coulomb friction zero is never reached; with too negative a slope the top speed is held."""
    assert time_between(a, k, 100.0, low) == math.inf


def test_already_there() -> None:
    assert time_between(1.0, 0.1, 5.0, 5.0) == 0.0
    assert time_between(-1.0, 0.0, 4.0, 5.0) == 0.0


@given(st.floats(0.01, 10), st.floats(0.001, 1), st.floats(10, 100))
def test_a_threshold_above_zero_is_reached_without_coulomb_friction(k, share, high) -> None:
    assume(share < 1)
    assert time_between(0.0, k, high, share * high) == pytest.approx(-math.log(share) / k, rel=1e-9)
