"""Every defect can be reached and shows in the log; defects of the log do what their sentence says."""

import numpy as np
import pytest
from twin_short import COVER_S, EMERGENCY_S, quick_cell, short_run

from interlock.twin import Defect, Flaw, Run
from interlock.twin.defects import Flaws
from interlock.twin.nets import Net

SOUND = short_run()


def stuck(defect: Defect) -> Flaw:
    """As it shows best in the short walk: the bus falls at the second demand only."""
    return Flaw(defect, demand=1 if defect is Defect.GAP_BUS else None)


@pytest.mark.parametrize("defect", Defect, ids=lambda d: d.name)
def test_every_defect_changes_the_log(defect: Defect) -> None:
    spoilt = short_run(stuck(defect)).log
    same = len(spoilt) == len(SOUND.log) and all(
        np.array_equal(getattr(spoilt, column), getattr(SOUND.log, column))
        for column in ("stamp_ns", "message", "payload")
    )
    assert not same


def test_every_defect_has_one_sentence_of_its_own() -> None:
    sentences = [defect.sentence for defect in Defect]
    assert len(set(sentences)) == len(Defect) >= 45
    assert all(text.endswith(".") and text[0].isupper() and len(text) < 110 for text in sentences)


def test_a_flaw_shows_at_its_demand_only() -> None:
    flaws = Flaws([Flaw(Defect.SLOW_STO_DRIVE, demand=1, size_s=0.5)])
    assert [flaws.has(Defect.SLOW_STO_DRIVE, k) for k in (-1, 0, 1, 2)] == [False, False, True, False]
    assert flaws.seconds(Defect.SLOW_STO_DRIVE, 1) == 0.5
    assert flaws.seconds(Defect.SLOW_STO_DRIVE, 0) == 0.0
    truth = short_run(Flaw(Defect.SLOW_STO_DRIVE, demand=1)).truth.demands
    assert [d.drive_off_s is not None and d.drive_off_s > 0.2 for d in truth] == [False, True]


def test_a_demand_that_does_not_come_is_an_error() -> None:
    with pytest.raises(ValueError, match="does not have"):
        short_run(Flaw(Defect.LOG_SILENT, demand=7))


def stamps(of: Run, *names: str) -> np.ndarray:
    rows = np.any([of.log.of(name) for name in names], axis=0)
    return of.log.stamp_ns[rows] / 1e9


@pytest.mark.parametrize(
    ("defect", "names", "others"),
    [
        (Defect.GAP_STATE, ("CellInputs",), ("AxisMotion",)),
        (Defect.GAP_UNITS, ("AxisMotion",), ("CellInputs",)),
        (Defect.GAP_REFERENCES, ("SetPoints",), ("LinkVoltage",)),
        (
            Defect.LOG_SILENT,
            ("CellInputs", "AxisMotion", "ShaftTorque", "SetPoints", "LinkVoltage", "AxisState"),
            (),
        ),
    ],
)
def test_gaps_are_as_long_as_stated_and_hold_the_demand(
    defect: Defect, names: tuple[str, ...], others: tuple[str, ...]
) -> None:
    of = short_run(defect)
    times = stamps(of, *names)
    widest = int(np.argmax(np.diff(times)))
    assert times[widest] < COVER_S < times[widest + 1]
    period_s = max(m.period_s for m in quick_cell().messages if m.name in names)
    slack_s = quick_cell().logger.delay_max_s + 0.0001
    assert (
        defect.size_s - slack_s <= times[widest + 1] - times[widest] <= defect.size_s + 2 * period_s + slack_s
    )
    for name in others:
        assert len(stamps(of, name)) == len(stamps(SOUND, name))


def column(of: Run, name: str, byte: int) -> tuple[np.ndarray, np.ndarray]:
    rows = of.log.of(name)
    return of.log.stamp_ns[rows] / 1e9, of.log.payload[rows][:, byte]


def within(times: np.ndarray, begin_s: float, end_s: float) -> np.ndarray:
    return (times > begin_s) & (times < end_s)


@pytest.mark.parametrize(
    ("defect", "counts", "moves"),
    [
        (Defect.ALIVE_FROZEN, False, True),
        (Defect.STATE_FROZEN, False, False),
        (Defect.STATE_FROZEN_ALIVE, True, False),
    ],
)
def test_frozen_state_message(defect: Defect, counts: bool, moves: bool) -> None:
    times, beat = column(short_run(defect), "CellInputs", 3)
    _, contacts = column(short_run(defect), "CellInputs", 0)
    around = within(times, COVER_S - 0.03, COVER_S + 0.4)
    assert (len(set(beat[around])) > 1) is counts
    assert (len(set(contacts[around])) > 1) is moves


@pytest.mark.parametrize(
    ("defect", "begin_s", "end_s"),
    [
        (Defect.CURRENT_STUCK_ZERO, COVER_S - 0.02, COVER_S + 1.9),
        (Defect.CURRENT_STUCK_LAST, COVER_S + 0.32, COVER_S + 2.2),
    ],
)
def test_stuck_currents(defect: Defect, begin_s: float, end_s: float) -> None:
    for byte in (2, 4):  # low bytes of both currents
        times, low = column(short_run(defect), "AxisMotion", byte)
        assert len(set(low[within(times, begin_s, end_s)])) == 1
        assert len(set(low[within(times, COVER_S - 0.5, COVER_S - 0.1)])) > 5


def test_dead_sensors_never_show_anything() -> None:
    rows = short_run(Defect.CURRENT_DEAD).log
    assert not rows.payload[rows.of("AxisMotion")][:, 2:6].any()


def test_clock_steps_back_once_by_a_quarter_second() -> None:
    steps = np.diff(short_run(Defect.CLOCK_BACK).log.stamp_ns)
    assert (steps < 0).sum() == 1
    assert steps.min() == pytest.approx(-0.25e9, rel=0.05)


def test_swapped_frames_run_backwards_and_none_is_lost() -> None:
    log = short_run(Defect.FRAMES_SWAPPED).log
    assert (np.diff(log.stamp_ns) < 0).sum() > 5
    assert np.array_equal(np.sort(log.stamp_ns), SOUND.log.stamp_ns)


def test_the_cut_log_ends_before_torque_is_off() -> None:
    of = short_run(Defect.LOG_CUT)
    truth = of.truth.demands[0]
    assert truth.drive_off_s is not None
    assert COVER_S < of.truth.last_frame_s < COVER_S + truth.drive_off_s


def test_frames_twice_come_twice_around_the_demand_only() -> None:
    log = short_run(Defect.FRAMES_TWICE).log
    times = log.stamp_ns / 1e9
    inside = within(times, COVER_S - 0.03, COVER_S + 0.4)
    assert inside.sum() == 2 * within(SOUND.log.stamp_ns / 1e9, COVER_S - 0.03, COVER_S + 0.4).sum()
    assert (~within(times, COVER_S - 0.05, COVER_S + 0.5)).sum() == (
        ~within(SOUND.log.stamp_ns / 1e9, COVER_S - 0.05, COVER_S + 0.5)
    ).sum()


def test_late_stamps_break_the_stated_delay_and_keep_the_order() -> None:
    log = short_run(Defect.DELAY_BEYOND).log
    delay = log.stamp_ns - log.content_ns
    assert delay.max() > 50e6
    assert (np.diff(log.stamp_ns) >= 0).all()
    assert delay[~log.of("AxisMotion")].max() < 3e6


def net(defect: Defect, name: Net, at_s: float) -> float:
    return float(short_run(defect).sensors.nets[name].sample(np.array([at_s]))[0])


@pytest.mark.parametrize(
    ("defect", "name", "at_s", "sound", "spoilt"),
    [
        (Defect.LATCH_MISSING, Net.PERMIT_LOAD, 3.7, 0, 1),
        (Defect.RESET_ON_PRESS, Net.PERMIT_DRIVE, 3.95, 0, 1),
        (Defect.RESET_DURING_DEMAND, Net.PERMIT_DRIVE, 3.35, 0, 1),
        (Defect.RESET_STUCK_ACTS, Net.PERMIT_DRIVE, 3.7, 0, 1),
        (Defect.RESET_STUCK, Net.RESET, 5.0, 0, 1),
        (Defect.TORQUE_ON_RELEASE, Net.SPEED_REFERENCE, 3.7, 0, 600),
        (Defect.TORQUE_ON_RESET, Net.TORQUE_REFERENCE, 4.5, 0, 8),
        (Defect.CONTACTOR_WELDED, Net.MAIN, 6.3, 0, 1),
        (Defect.SUPPLY_WHILE_LATCHED, Net.MAIN, 6.6, 0, 1),
        (Defect.SUPPLY_ON_RELEASE, Net.MAIN, 7.2, 0, 1),
        (Defect.CHANNEL_2_STUCK_UNSEEN, Net.COVER_2, 3.0, 0, 1),
        (Defect.ENABLE_STUCK_LOAD, Net.PERMIT_LOAD, 3.0, 0, 1),
    ],
)
def test_what_a_defect_of_the_chain_leaves_on(
    defect: Defect, name: Net, at_s: float, sound: float, spoilt: float
) -> None:
    assert float(SOUND.sensors.nets[name].sample(np.array([at_s]))[0]) == sound
    assert net(defect, name, at_s) == spoilt


def test_the_second_stop_of_a_bench_without_comparison_is_not_locked_out() -> None:
    at_s = np.array([EMERGENCY_S - 0.1])
    locked, unseen = (
        short_run(Flaw(defect, demand=0)).sensors.nets[Net.PERMIT_DRIVE].sample(at_s)[0]
        for defect in (Defect.CHANNEL_2_STUCK, Defect.CHANNEL_2_STUCK_UNSEEN)
    )
    assert (locked, unseen) == (0.0, 1.0)
