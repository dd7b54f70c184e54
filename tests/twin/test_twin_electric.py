"""Electrics against the exponential law of a first-order lag and of an RC discharge (elementary circuit theory)."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.demo.cell import cell
from interlock.twin.electric import Bus, CurrentLoop, SpeedLoop

STEPS = st.lists(st.floats(1e-6, 0.01), min_size=1, max_size=20)


@given(STEPS)
def test_a_blocked_inverter_loses_its_current_exponentially_whatever_the_steps(steps: list[float]) -> None:
    loop = CurrentLoop(cell().drive)
    loop.q_a, loop.d_a = 15.0, 0.8
    for h in steps:
        loop.step(h, 15.0, on=False)
    left = math.exp(-sum(steps) / cell().drive.decay_s)
    assert loop.q_a == pytest.approx(15.0 * left, rel=1e-9)
    assert loop.d_a == pytest.approx(0.8 * left, rel=1e-9)


@given(STEPS, st.floats(-40, 40))
def test_an_enabled_loop_lags_behind_its_target(steps: list[float], wanted: float) -> None:
    loop = CurrentLoop(cell().drive)
    for h in steps:
        loop.step(h, wanted, on=True)
    reached = 1.0 - math.exp(-sum(steps) / cell().drive.lag_s)
    assert loop.q_a == pytest.approx(wanted * reached, rel=1e-9, abs=1e-12)
    assert loop.d_a == pytest.approx(0.8 * reached, rel=1e-9)


def test_current_and_torque_are_limited() -> None:
    loop = CurrentLoop(cell().drive)
    for _ in range(100):
        nm = loop.step(0.001, 1e6, on=True)
    assert loop.q_a == pytest.approx(cell().drive.limit_a)
    assert nm == pytest.approx(cell().drive.limit_a * cell().drive.nm_per_a)


@given(STEPS)
def test_without_contactor_the_bus_falls_by_its_bleeder(steps: list[float]) -> None:
    bus = Bus(cell().supply, 1.0)
    bus.volts = 320.0
    for h in steps:
        bus.step(h, closed=False, watts=0.0)
    assert bus.volts == pytest.approx(320.0 * math.exp(-sum(steps) / (500.0 * 0.0022)), rel=1e-9)


def test_time_from_320_to_60_volts_is_that_of_the_law() -> None:
    bus, t = Bus(cell().supply, 1.0), 0.0
    bus.volts = 320.0
    while bus.volts > 60.0:
        bus.step(0.0001, closed=False, watts=0.0)
        t += 0.0001
    assert t == pytest.approx(1.1 * math.log(320.0 / 60.0), abs=2e-4)


def test_precharge_then_full_voltage() -> None:
    supply = cell().supply
    bus = Bus(supply, 1.0)
    volts = []
    for _ in range(1000):
        bus.step(0.001, closed=True, watts=0.0)
        volts.append(bus.volts)
    parallel = 1 / (1 / supply.precharge_ohm + 1 / supply.bleeder_ohm)
    aim = supply.volts * supply.bleeder_ohm / (supply.bleeder_ohm + supply.precharge_ohm)
    expected = aim * (1 - math.exp(-0.1 / (parallel * supply.capacitance_f)))
    assert volts[99] == pytest.approx(expected, rel=1e-9)
    assert volts[-1] == pytest.approx(320.0, rel=1e-3)
    assert max(volts) < 320.0


def test_inverters_draw_power_from_the_bus_and_braking_feeds_it() -> None:
    used, fed, idle = (Bus(cell().supply, 1.0) for _ in range(3))
    for bus, watts in ((used, 2000.0), (fed, -2000.0), (idle, 0.0)):
        bus.volts = 300.0
        bus.step(0.005, closed=False, watts=watts)
    assert used.volts < idle.volts < fed.volts
    assert used.drawn_a == pytest.approx(2000.0 / 300.0)


def test_below_the_minimum_nothing_is_drawn() -> None:
    bus = Bus(cell().supply, 1.0)
    bus.volts = 100.0
    bus.step(0.001, closed=False, watts=5000.0)
    assert bus.drawn_a == 0.0


def test_the_speed_loop_takes_a_simple_inertia_to_its_reference() -> None:
    bench = replace(cell())
    loop, w = SpeedLoop(bench.control, bench.drive), 0.0
    for _ in range(4000):
        amps = loop.step(0.0005, 250.0, w, on=True)
        w += 0.0005 * (amps * bench.drive.nm_per_a - 5.0) / bench.inertia_kgm2  # 5 Nm against it
    assert w == pytest.approx(250.0, abs=0.1)


def test_a_blocked_speed_loop_asks_for_nothing_and_starts_from_the_shaft_speed() -> None:
    bench = cell()
    loop = SpeedLoop(bench.control, bench.drive)
    assert loop.step(0.0005, 250.0, 80.0, on=False) == 0.0
    first = loop.step(0.0005, 250.0, 80.0, on=True)
    assert 0.0 < first < 2.0  # one step of the ramp, not the whole way to 250
