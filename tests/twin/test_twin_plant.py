"""The plant as a whole: history, energy from the bus, and steps that fall on events."""

import math
from dataclasses import replace

import numpy as np
import pytest
from twin_short import COVER_S, EMERGENCY_S, quick_cell, short_run, short_walk

from interlock.twin import Defect, run
from interlock.twin.nets import DriveState, Net
from interlock.twin.plant import Lag

RPM = math.pi / 30


def test_a_lag_is_read_exactly_between_grid_points() -> None:
    lag = Lag(np.array([10.0, 4.0]), np.array([0.0, 5.0]), np.array([0.001, 0.002]))
    steps, into = np.array([0, 0, 1]), np.array([0.0, 0.0005, 0.002])
    expected = [10.0, 10.0 * math.exp(-0.5), 5.0 - math.exp(-1.0)]
    assert lag.at(steps, into).tolist() == pytest.approx(expected, rel=1e-12)


def test_every_event_of_a_net_lies_on_the_grid() -> None:
    sensors = short_run().sensors
    grid = set(sensors.history.t_s.tolist())
    for net in (Net.STATE_DRIVE, Net.STATE_LOAD, Net.MAIN, Net.SPEED_REFERENCE):
        assert set(sensors.nets[net].times) <= grid


def test_lags_go_on_where_they_were() -> None:
    past = short_run().sensors.history
    spans = np.diff(past.t_s)
    for lag in (past.drive_q, past.load_q, past.drive_d, past.bus_v):
        reached = lag.at(np.arange(len(spans)), spans)
        assert np.max(np.abs(reached - lag.start[1:])) < 1e-9


def test_a_finer_step_changes_little() -> None:
    """Halving the step must not move what the truth record says."""
    coarse = short_run().truth.demands
    fine = run(replace(quick_cell(), step_s=0.00025), short_walk(), np.random.default_rng(5)).truth.demands
    for one, other in zip(coarse, fine, strict=True):
        assert one.drive_off_s == pytest.approx(other.drive_off_s, abs=5e-6)
        assert one.load_off_s == pytest.approx(other.load_off_s, abs=5e-6)
        assert one.standstill_s == pytest.approx(other.standstill_s, abs=5e-3)


def test_steady_running_balances_torque_and_power() -> None:
    bench, past = quick_cell(), short_run().sensors.history
    at = np.array([COVER_S - 0.05])
    w = past.between(past.drive_rad_s, at)[0]
    assert w == pytest.approx(600.0 * RPM, rel=0.01)
    friction = 1.0 + 1.4 + (0.0012 + 0.0018) * w
    drive_nm = past.lag(past.drive_q, at)[0] * bench.drive.nm_per_a
    assert drive_nm == pytest.approx(8.0 + friction, abs=0.15)
    net_w = (drive_nm - 8.0) * w  # the brake feeds its share back
    assert past.between(past.drawn_a, at)[0] * 320.0 == pytest.approx(net_w, rel=0.03)


def test_no_torque_while_the_inverter_is_blocked() -> None:
    past, nets = short_run().sensors.history, short_run().sensors.nets
    at = np.linspace(COVER_S + 0.05, 4.75, 2000)
    assert (nets[Net.STATE_DRIVE].sample(at) == DriveState.DISABLED).all()
    assert np.max(past.current("drive", at)) < 1e-3
    assert np.max(past.current("load", at)) < 1e-3
    assert (np.diff(past.between(past.drive_rad_s, at)) <= 1e-9).all()


def test_an_enabled_unit_at_rest_still_shows_its_magnetising_current() -> None:
    past = short_run(Defect.STO_UNWIRED_LOAD).sensors.history
    assert past.current("load", np.array([COVER_S + 0.5]))[0] == pytest.approx(0.8, abs=1e-3)


def test_a_unit_without_bus_makes_no_torque_although_enabled() -> None:
    """Undervoltage: the bus falls below the inverters' minimum after the contactor opened."""
    sensors = short_run(Defect.STO_UNWIRED_DRIVE).sensors
    at = np.array([EMERGENCY_S + 1.2])
    assert sensors.history.lag(sensors.history.bus_v, at)[0] < quick_cell().supply.minimum_v
    assert sensors.nets[Net.STATE_DRIVE].sample(at)[0] == DriveState.ENABLED
    assert sensors.history.current("drive", at)[0] < 0.01


def test_less_friction_and_a_cut_bleeder_show_in_the_plant_only() -> None:
    at = np.array([COVER_S + 0.8])
    sound, long = (short_run(*flaws).sensors.history for flaws in ((), (Defect.COAST_LONG,)))
    assert long.between(long.drive_rad_s, at)[0] > sound.between(sound.drive_rad_s, at)[0] + 5.0
    late = np.array([EMERGENCY_S + 0.9])
    kept = short_run(Defect.BUS_KEPT).sensors.history
    assert kept.lag(kept.bus_v, late)[0] > 300.0
    assert sound.lag(sound.bus_v, late)[0] < 200.0
