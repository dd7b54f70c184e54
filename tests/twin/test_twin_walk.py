"""The walk on the sound bench does what a bench in good order must, and takes little time."""

import math
import time

import numpy as np
import pytest

from interlock.demo.cell import cell
from interlock.twin import Run, humanly, proof_test, run
from interlock.twin.nets import DriveState, Net

RNG_SEED = 11


@pytest.fixture(scope="module")
def walked() -> Run:
    return run(cell(), humanly(proof_test(), np.random.default_rng(1)), np.random.default_rng(RNG_SEED))


def value(of: Run, net: Net, at_s: float) -> float:
    return float(of.sensors.nets[net].sample(np.array([at_s]))[0])


def test_a_minute_of_bench_takes_seconds() -> None:
    begin = time.process_time()
    run(cell(), proof_test(), np.random.default_rng(0))
    assert time.process_time() - begin < 5.0


def test_it_stops_the_bench_at_speed_five_times(walked: Run) -> None:
    demands = walked.truth.demands
    assert [d.what for d in demands] == ["cover", "button", "cover", "emergency", "button"]
    assert all(d.drive_torque_before and d.load_torque_before for d in demands)
    rpm = walked.sensors.history.between(
        walked.sensors.history.drive_rad_s, np.array([d.onset_s for d in demands])
    )
    assert rpm * 30 / math.pi == pytest.approx(2400.0, abs=5.0)


def test_every_stop_of_the_sound_bench_is_within_the_facts_sheet(walked: Run) -> None:
    for demand in walked.truth.demands:
        assert demand.drive_off_s is not None and demand.drive_off_s < 0.04
        assert demand.load_off_s is not None and demand.load_off_s < 0.04
        assert demand.speed_reference_zero_s is not None and demand.speed_reference_zero_s < 0.06
        assert demand.standstill_s is not None and 3.5 < demand.standstill_s < 4.5
        assert demand.drive_returns_s == demand.load_returns_s == ()
    emergency = walked.truth.demands[3]
    assert emergency.contactor_open_s is not None and emergency.contactor_open_s < 0.03
    assert emergency.bus_low_s is not None and emergency.bus_low_s < 2.0


@pytest.mark.parametrize(
    ("at_s", "what"),
    [
        (11.6, "reset pressed and released while the cover is open"),
        (12.4, "cover closed, no reset"),
        (12.8, "reset pressed, not released"),
        (33.1, "reset held for more than a second"),
        (44.0, "reset while the emergency stop is latched"),
        (45.8, "emergency stop released"),
        (47.0, "supply on, no reset"),
    ],
)
def test_acts_that_must_not_bring_the_lines_back(walked: Run, at_s: float, what: str) -> None:
    assert value(walked, Net.PERMIT_DRIVE, at_s) == 0, what
    assert value(walked, Net.PERMIT_LOAD, at_s) == 0, what


@pytest.mark.parametrize("at_s", [3.8, 13.0, 23.5, 33.4, 48.1, 57.5])
def test_each_release_of_reset_brings_the_lines_but_no_torque(walked: Run, at_s: float) -> None:
    assert value(walked, Net.PERMIT_DRIVE, at_s) == 1
    for unit in ("drive", "load"):
        assert walked.sensors.history.current(unit, np.array([at_s]))[0] < 0.01


@pytest.mark.parametrize(
    ("at_s", "closed"), [(1.9, 0), (2.2, 1), (39.4, 1), (39.6, 0), (42.3, 0), (45.5, 0), (46.5, 1)]
)
def test_the_contactor_follows_supply_on_and_emergency_stop(walked: Run, at_s: float, closed: float) -> None:
    assert value(walked, Net.MAIN, at_s) == closed


@pytest.mark.parametrize("at_s", [7.9, 18.4, 28.9, 39.4, 52.4, 62.4])
def test_it_runs_with_both_references_before_each_stop(walked: Run, at_s: float) -> None:
    assert value(walked, Net.STATE_DRIVE, at_s) == DriveState.ENABLED
    assert value(walked, Net.SPEED_REFERENCE, at_s) == 2400.0
    assert value(walked, Net.TORQUE_REFERENCE, at_s) == 16.0
    shaft = walked.sensors.history.between(walked.sensors.history.shaft_nm, np.array([at_s]))[0]
    assert shaft == pytest.approx(16.0 + 1.4 + 0.0018 * 2400 * math.pi / 30, abs=0.1)  # load and its friction


def test_bench_ends_at_rest(walked: Run) -> None:
    assert abs(walked.sensors.history.drive_rad_s[-1]) < 0.1
