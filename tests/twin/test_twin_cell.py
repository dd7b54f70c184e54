"""The built-in bench's figures hold together, and it is not the sample bench in other clothes."""

import math

import numpy as np
import pytest
from sample_layout import sample_bench

from interlock.demo.cell import cell
from interlock.twin import TwinBench
from interlock.twin.frames import merge
from interlock.twin.nets import Net, Reading
from interlock.twin.pack import Layout, layouts

BENCHES = [cell(), sample_bench()]
IDS = ["cell", "sample"]


@pytest.mark.parametrize("bench", BENCHES, ids=IDS)
def test_every_message_and_signal_of_the_data_base_is_fed_and_no_other(bench: TwinBench) -> None:
    laid = layouts(bench.dbc)
    assert {m.name: {s.signal for s in m.shown} for m in bench.messages} == {
        name: set(layout.signals) for name, layout in laid.items()
    }


@pytest.mark.parametrize("bench", BENCHES, ids=IDS)
def test_every_source_is_shown_once(bench: TwinBench) -> None:
    shown = [s.source for m in bench.messages for s in m.shown]
    assert len(set(shown)) == len(shown)
    heat = {Reading.HEAT_DRIVE, Reading.HEAT_LOAD}  # the sample bench shows none, the cell both
    assert heat <= set(shown) or not heat & set(shown)
    assert set(Reading) - heat <= set(shown)
    assert {Net.COVER_1, Net.COVER_2, Net.PERMIT_DRIVE, Net.PERMIT_LOAD, Net.MAIN, Net.RESET} <= set(shown)


@pytest.mark.parametrize("bench", BENCHES, ids=IDS)
def test_idle_current_is_told_from_none_and_noise_is_not_taken_for_torque(bench: TwinBench) -> None:
    noise = max(s.noise for m in bench.messages for s in m.shown if s.source is Reading.CURRENT_DRIVE)
    assert bench.threshold_a > 6 * noise
    for unit in (bench.drive, bench.load):
        assert unit.idle_a > bench.threshold_a + 6 * noise


def test_coast_down_and_discharge_take_what_the_facts_sheet_says() -> None:
    """Closed forms: t = J/b ln(1 + b w/c); t = RC ln(U0/U)."""
    bench = cell()
    c = bench.drive.coulomb_nm + bench.load.coulomb_nm
    b = bench.drive.viscous_nms + bench.load.viscous_nms
    coast_s = bench.inertia_kgm2 / b * math.log(1 + b * 2400 * math.pi / 30 / c)
    assert coast_s == pytest.approx(4.0, abs=0.05)
    tau_s = bench.supply.bleeder_ohm * bench.supply.capacitance_f
    assert tau_s * math.log(bench.supply.volts / bench.low_v) == pytest.approx(1.84, abs=0.02)


def test_layout_and_periods_differ_from_the_sample_bench() -> None:
    mine, other = (layouts(bench.dbc) for bench in BENCHES)
    assert not set(mine) & set(other)
    assert not {la.frame_id for la in mine.values()} & {la.frame_id for la in other.values()}
    assert {la.extended for la in mine.values()} == {True, False}
    polarity = {s.inverted for m in cell().messages for s in m.shown if isinstance(s.source, Net)}
    assert polarity == {True, False}


def test_merging_sorts_by_stamp_and_keeps_each_messages_order() -> None:
    layout = Layout(1, False, 2, {})
    one = ("one", layout, np.array([0, 5, 5]), np.array([0, 1, 2]), np.ones((3, 2), np.uint8))
    two = ("two", layout, np.array([3, 5]), np.array([3, 4]), np.zeros((2, 2), np.uint8))
    log = merge([one, two])
    assert log.stamp_ns.tolist() == [0, 3, 5, 5, 5]
    assert log.content_ns[log.of("one")].tolist() == [0, 1, 2]
    assert [frame.data for frame in log] == [b"\1\1", b"\0\0", b"\1\1", b"\1\1", b"\0\0"]
    assert len(log.take(log.of("two"))) == 2
