"""Mechanics against elementary dynamics and against scipy's integrator.

Sources: J dw/dt = -(c + b w) and its solution w(t) = (w0 + c/b) exp(-b t/J) - c/b, any textbook of dynamics;
natural frequency of a free two-mass system sqrt(k (1/J1 + 1/J2)), likewise; scipy.integrate.solve_ivp as oracle.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from interlock.demo.cell import cell
from interlock.twin.bench import Shaft, TwinBench
from interlock.twin.shaft import ElasticShaft, RigidShaft, make_shaft

H = 0.0005


def bench(
    coulomb: float = 0.0, viscous: float = 0.0, stiffness: float | None = 9000.0, damping: float = 0.0
) -> TwinBench:
    base = cell()
    return replace(
        base,
        drive=replace(base.drive, coulomb_nm=coulomb, viscous_nms=viscous),
        load=replace(base.load, coulomb_nm=coulomb, viscous_nms=viscous),
        shaft=Shaft(stiffness, damping),
    )


def elastic(**figures: float) -> ElasticShaft:
    shaft = make_shaft(bench(**figures))
    assert isinstance(shaft, ElasticShaft)
    return shaft


def spin(shaft: RigidShaft | ElasticShaft, rad_s: float) -> None:
    shaft.drive_rad_s = shaft.load_rad_s = rad_s


def energy(shaft: ElasticShaft, of: TwinBench) -> float:
    stored = 0.5 * of.shaft.stiffness_nm_rad * shaft.twist_rad**2
    return stored + 0.5 * (
        of.drive.inertia_kgm2 * shaft.drive_rad_s**2 + of.load.inertia_kgm2 * shaft.load_rad_s**2
    )


@settings(max_examples=20, deadline=None)
@given(st.floats(-50, 50), st.floats(-50, 50), st.floats(-0.005, 0.005))
def test_without_friction_momentum_and_energy_stay(w1: float, w2: float, twist: float) -> None:
    of, shaft = bench(), elastic()
    shaft.drive_rad_s, shaft.load_rad_s, shaft.twist_rad = w1, w2, twist

    def momentum() -> float:
        return of.drive.inertia_kgm2 * shaft.drive_rad_s + of.load.inertia_kgm2 * shaft.load_rad_s

    before = (momentum(), energy(shaft, of))
    for _ in range(400):
        shaft.step(H / 4, 0.0, 0.0)
    assert momentum() == pytest.approx(before[0], abs=1e-9)
    assert energy(shaft, of) == pytest.approx(before[1], rel=1e-4, abs=1e-9)
    assert energy(shaft, of) <= before[1] * (1 + 1e-9) + 1e-12  # the method loses a little, never gains


@settings(max_examples=20, deadline=None)
@given(st.floats(-20, 20), st.floats(-20, 20))
def test_momentum_grows_by_the_impulse_of_outer_torques(drive_nm: float, load_nm: float) -> None:
    of, shaft = bench(), elastic()
    for _ in range(200):
        shaft.step(H, drive_nm, load_nm)
    gained = of.drive.inertia_kgm2 * shaft.drive_rad_s + of.load.inertia_kgm2 * shaft.load_rad_s
    assert gained == pytest.approx((drive_nm + load_nm) * 200 * H, abs=1e-9)


def test_work_of_torques_less_friction_is_stored() -> None:
    of, shaft = (
        bench(coulomb=0.8, viscous=0.004, damping=0.5),
        elastic(coulomb=0.8, viscous=0.004, damping=0.5),
    )
    spin(shaft, 40.0)
    start, work = energy(shaft, of), 0.0
    for _ in range(2000):
        old = (shaft.drive_rad_s, shaft.load_rad_s)
        shaft.step(H, 12.0, -3.0)
        w1, w2 = (old[0] + shaft.drive_rad_s) / 2, (old[1] + shaft.load_rad_s) / 2
        lost = 0.8 * (w1 + w2) + 0.004 * (w1**2 + w2**2) + 0.5 * (w1 - w2) ** 2
        work += H * (12.0 * w1 - 3.0 * w2 - lost)
    assert energy(shaft, of) - start == pytest.approx(work, rel=1e-4)


def test_torsional_vibration_has_the_rate_of_the_two_mass_formula() -> None:
    of, shaft = bench(), elastic()
    shaft.twist_rad = 0.001
    twists = []
    for _ in range(2000):
        shaft.step(H / 4, 0.0, 0.0)
        twists.append(shaft.twist_rad)
    signs = np.signbit(twists)
    crossings = np.flatnonzero(signs[1:] != signs[:-1])
    half_period = (crossings[-1] - crossings[0]) * H / 4 / (len(crossings) - 1)
    rate = math.sqrt(9000.0 * (1 / of.drive.inertia_kgm2 + 1 / of.load.inertia_kgm2))
    assert math.pi / half_period == pytest.approx(rate, rel=2e-3)


def coast(shaft: RigidShaft | ElasticShaft, rad_s: float, seconds: float) -> np.ndarray:
    spin(shaft, rad_s)
    speeds = [rad_s]
    for _ in range(round(seconds / H)):
        shaft.step(H, 0.0, 0.0)
        speeds.append(shaft.drive_rad_s)
    return np.array(speeds)


@pytest.mark.parametrize("stiffness", [None, 9000.0])
def test_coast_down_follows_the_closed_form(stiffness: float | None) -> None:
    of = bench(coulomb=1.2, viscous=0.0015, stiffness=stiffness, damping=0.6)
    # equal deceleration of both ends, so that the spring stays straight and the closed form is exact
    of = replace(of, load=replace(of.load, inertia_kgm2=of.drive.inertia_kgm2))
    j, c, b = of.inertia_kgm2, 2.4, 0.003
    speeds = coast(make_shaft(of), 251.0, 3.0)
    t = np.arange(len(speeds)) * H
    exact = (251.0 + c / b) * np.exp(-b * t / j) - c / b
    moving = exact > 0.1  # below it the model lets Coulomb friction fade
    assert np.max(np.abs(speeds - exact)[moving]) < 1e-6


def test_coast_down_agrees_with_an_independent_integrator_to_standstill() -> None:
    of = cell()
    one, two, k, d = of.drive, of.load, of.shaft.stiffness_nm_rad, of.shaft.damping_nms

    def slopes(_: float, y: np.ndarray) -> list[float]:
        w1, w2, twist = y
        nm = k * twist + d * (w1 - w2)
        f1 = one.coulomb_nm * np.sign(w1) + one.viscous_nms * w1
        f2 = two.coulomb_nm * np.sign(w2) + two.viscous_nms * w2
        return [(-nm - f1) / one.inertia_kgm2, (nm - f2) / two.inertia_kgm2, w1 - w2]

    oracle = solve_ivp(slopes, (0.0, 3.9), [251.0, 251.0, 0.0], rtol=1e-8, atol=1e-8, dense_output=True)
    speeds = coast(make_shaft(of), 251.0, 3.9)
    t = np.arange(len(speeds)) * H
    assert np.max(np.abs(speeds - oracle.sol(t)[0])) < 1e-3


def test_a_shaft_at_rest_stays_and_small_torque_does_not_move_it() -> None:
    shaft = make_shaft(cell())
    for _ in range(2000):
        shaft.step(H, 0.5, 0.0)  # below the Coulomb friction of the drive end
    assert abs(shaft.drive_rad_s) < 0.03
    spin(shaft, 5.0)
    for _ in range(2000):
        shaft.step(H, 0.0, 0.0)
    assert abs(shaft.drive_rad_s) < 1e-6


@pytest.mark.parametrize("stiffness", [None, 9000.0])
def test_the_transducer_shows_what_the_load_takes(stiffness: float | None) -> None:
    shaft = make_shaft(bench(coulomb=0.5, stiffness=stiffness, damping=3.0))
    spin(shaft, 100.0)
    for _ in range(400):
        shaft.step(H, 8.0 + 1.0, -8.0)  # 1 Nm covers friction of both ends
    assert shaft.torque_nm == pytest.approx(8.5, abs=0.01)  # load torque and the load end's friction


def test_less_friction_coasts_longer_by_its_share() -> None:
    full, third = (coast(make_shaft(bench(coulomb=1.0), share), 100.0, 0.5)[-1] for share in (1.0, 0.3))
    assert 100.0 - third == pytest.approx(0.3 * (100.0 - full), rel=1e-3)


def test_a_step_too_long_for_the_spring_is_refused() -> None:
    with pytest.raises(ValueError, match="too long for a torsional rate"):
        make_shaft(replace(cell(), step_s=0.01))
