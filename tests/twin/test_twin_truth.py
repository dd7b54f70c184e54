"""The truth record against closed forms and against the log's own samples."""

import json
import math

import numpy as np
import pytest
from sample_layout import sample_bench, sample_walk
from twin_short import COVER_S, EMERGENCY_S, quick_cell, short_run

from interlock.twin import Defect, DemandTruth, Flaw, humanly, run
from interlock.twin.nets import DriveState, Net

UNITS = (("drive", Net.STATE_DRIVE), ("load", Net.STATE_LOAD))


def cover(*flaws: Flaw | Defect) -> DemandTruth:
    return short_run(*flaws).truth.demands[0]


def emergency(*flaws: Flaw | Defect) -> DemandTruth:
    return short_run(*flaws).truth.demands[1]


def test_demands_are_the_first_contacts_to_open() -> None:
    assert [(d.what, d.onset_s) for d in short_run().truth.demands] == [
        ("cover", COVER_S),
        ("emergency", EMERGENCY_S),
    ]
    assert short_run().sensors.nets[Net.COVER_1].sample(np.array([COVER_S - 1e-9, COVER_S])).tolist() == [
        1,
        0,
    ]


@pytest.mark.parametrize(("unit", "state"), UNITS)
def test_torque_off_is_where_the_exponential_crosses_the_threshold(unit: str, state: Net) -> None:
    bench, of = quick_cell(), short_run()
    track = of.sensors.nets[state]
    blocked = next(
        t for t, v in zip(track.times, track.values, strict=True) if t > COVER_S and v == DriveState.DISABLED
    )
    before = of.sensors.history.current(unit, np.array([blocked]))[0]
    decay_s = getattr(bench, unit).decay_s
    expected = blocked - COVER_S + decay_s * math.log(before / bench.threshold_a)
    assert getattr(of.truth.demands[0], f"{unit}_off_s") == pytest.approx(expected, abs=1e-9)
    assert getattr(of.truth.demands[0], f"{unit}_torque_before")


@pytest.mark.parametrize("unit", ["drive", "load"])
@pytest.mark.parametrize("k", [0, 1])
def test_samples_on_either_side_of_torque_off_agree_with_it(unit: str, k: int) -> None:
    of, bench = short_run(), quick_cell()
    truth = of.truth.demands[k]
    at = truth.onset_s + getattr(truth, f"{unit}_off_s")
    fine = np.linspace(truth.onset_s, truth.until_s - 1e-6, 50_000)
    on = of.sensors.history.current(unit, fine) > bench.threshold_a
    assert on[fine < at].all()
    assert not on[fine > at + 1e-9].any()


def test_bus_falls_by_the_law_of_the_bleeder() -> None:
    truth = emergency(Flaw(Defect.SUPPLY_ON_RELEASE, demand=9))  # a flaw that never shows changes nothing
    assert truth == emergency()
    long_run = run(sample_bench(), sample_walk(), np.random.default_rng(2)).truth.demands[3]
    assert long_run.contactor_open_s is not None
    tau_s = sample_bench().supply.bleeder_ohm * sample_bench().supply.capacitance_f
    assert long_run.bus_low_s == pytest.approx(
        long_run.contactor_open_s + tau_s * math.log(96.0 / 60.0), abs=0.002
    )


def test_standstill_of_the_sample_bench_by_the_closed_form() -> None:
    """w(t) = (w0 + c/b) exp(-b t/J) - c/b; J 0.011, c 0.28, b 0.0012 by the bench's data sheet."""
    of = run(sample_bench(), humanly(sample_walk(), np.random.default_rng(1)), np.random.default_rng(2))
    j, c, b = 0.011, 0.28, 0.0012
    for demand in of.truth.demands:
        assert demand.standstill_s is not None
        free = demand.onset_s + 0.06  # both units are without current by then
        w0 = float(of.sensors.history.between(of.sensors.history.drive_rad_s, np.array([free]))[0])
        assert 1380.0 < w0 * 30 / math.pi < 1440.0
        coast_s = j / b * math.log((w0 + c / b) / (5 * math.pi / 30 + c / b))
        assert demand.standstill_s == pytest.approx(0.06 + coast_s, abs=1e-4)


def test_references_and_contactor_are_those_of_the_nets() -> None:
    nets, truth = short_run().sensors.nets, emergency()
    for net, latency in (
        (Net.SPEED_REFERENCE, truth.speed_reference_zero_s),
        (Net.TORQUE_REFERENCE, truth.torque_reference_zero_s),
        (Net.MAIN, truth.contactor_open_s),
    ):
        assert latency is not None
        around = np.array([EMERGENCY_S + latency - 1e-6, EMERGENCY_S + latency + 1e-9])
        assert (nets[net].sample(around) > 0).tolist() == [True, False]


def test_a_cover_stop_says_nothing_of_contactor_and_bus() -> None:
    assert cover().contactor_open_s is None
    assert cover().bus_low_s is None


@pytest.mark.parametrize(
    ("defect", "field", "expected"),
    [
        (Defect.SLOW_STO_DRIVE, "drive_off_s", pytest.approx(0.265, abs=0.01)),
        (Defect.SLOW_STO_LOAD, "load_off_s", pytest.approx(0.265, abs=0.01)),
        (Defect.STO_UNWIRED_DRIVE, "drive_off_s", None),
        (Defect.STO_UNWIRED_LOAD, "load_first_off_s", None),
        (Defect.REFERENCES_LATE, "speed_reference_zero_s", pytest.approx(0.495, abs=0.01)),
        (Defect.SPEED_REFERENCE_KEPT, "speed_reference_zero_s", None),
        (Defect.TORQUE_REFERENCE_KEPT, "torque_reference_zero_s", None),
        (Defect.ENABLE_STUCK_DRIVE, "drive_permit_first_off_s", None),
        (Defect.COAST_LONG, "standstill_s", None),
        (Defect.UNIT_RESTARTS, "load_off_s", None),
    ],
)
def test_defects_in_the_record_of_the_cover_stop(defect: Defect, field: str, expected: object) -> None:
    assert getattr(cover(defect), field) == expected


@pytest.mark.parametrize(
    ("defect", "field", "expected"),
    [
        (Defect.CONTACTOR_WELDED, "contactor_open_s", None),
        (Defect.CONTACTOR_SLOW, "contactor_open_s", pytest.approx(0.243, abs=0.005)),
        (Defect.BUS_KEPT, "bus_low_s", None),
        (Defect.BUS_SLOW, "bus_low_s", None),
    ],
)
def test_defects_in_the_record_of_the_emergency_stop(defect: Defect, field: str, expected: object) -> None:
    assert getattr(emergency(defect), field) == expected


def test_a_pulse_is_told_apart_from_a_late_stop() -> None:
    truth = cover(Flaw(Defect.PULSE_DURING_DEMAND, demand=0, size_s=0.08))
    spans = truth.drive_returns_s + truth.load_returns_s
    assert len(spans) == 1
    (begin, end), first = spans[0], (truth.drive_first_off_s, truth.load_first_off_s)
    assert end - begin == pytest.approx(0.08, abs=0.005)
    assert all(off is not None and off < 0.04 for off in first)
    assert max(truth.drive_off_s or 0, truth.load_off_s or 0) == pytest.approx(end, abs=0.002)


def test_the_record_is_plain_json_with_the_first_frame() -> None:
    of = short_run(Defect.SLOW_STO_DRIVE)
    record = json.loads(of.truth.to_json())
    assert record["first_frame_s"] == of.log.stamp_ns[0] / 1e9
    assert record["last_frame_s"] == of.log.stamp_ns[-1] / 1e9
    assert record["defects"] == ["slow_sto_drive"]
    assert record["starts_s"] == [1.3, 4.8]
    assert record["resets_released_s"] == [1.1, 3.2, 4.1, 7.8]
    assert len(record["demands"]) == 2
