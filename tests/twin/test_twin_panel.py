"""Hands on devices: which contact moves when."""

import numpy as np
import pytest

from interlock.twin.acts import Act, Deed
from interlock.twin.defects import Defect, Flaws
from interlock.twin.kernel import Kernel
from interlock.twin.nets import Net
from interlock.twin.panel import Panel

CLOSED = {net: 1.0 for net in Net if net.value.startswith(("cover", "stop", "emergency"))}


def moved(act: Act, *flaws: Defect, seed: int = 0) -> tuple[dict[Net, float], list[Deed]]:
    """When each net changed after one act at 1 s, and what reached the controller."""
    kernel, told = Kernel({} if act.value.startswith(("close", "release")) else CLOSED), []
    panel = Panel(kernel, told.append, 0.012, Flaws(flaws), np.random.default_rng(seed))
    kernel.after(1.0, lambda: panel.act(Deed(1.0, act, 7.0)))
    kernel.run(9.0)
    return {net: track.times[1] for net, track in kernel.tracks.items() if len(track.times) > 1}, told


@pytest.mark.parametrize(
    ("act", "nets", "lag_s"),
    [
        (Act.OPEN_COVER, {Net.COVER_1, Net.COVER_2}, 0.012),
        (Act.CLOSE_COVER, {Net.COVER_1, Net.COVER_2}, 0.012),
        (Act.PRESS_STOP, {Net.STOP_1, Net.STOP_2}, 0.002),
        (Act.PRESS_EMERGENCY, {Net.EMERGENCY_1, Net.EMERGENCY_2, Net.EMERGENCY_3}, 0.002),
        (Act.PRESS_RESET, {Net.RESET}, 0.0),
        (Act.PRESS_SUPPLY, {Net.SUPPLY}, 0.0),
    ],
)
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_first_contact_moves_at_once_the_others_within_the_lag(
    act: Act, nets: set[Net], lag_s: float, seed: int
) -> None:
    times, told = moved(act, seed=seed)
    assert set(times) == nets
    assert min(times.values()) == 1.0
    assert max(times.values()) <= 1.0 + lag_s
    assert told == []


@pytest.mark.parametrize("act", [Act.START, Act.SET_SPEED, Act.SET_TORQUE])
def test_start_and_references_go_to_the_controller(act: Act) -> None:
    times, told = moved(act)
    assert times == {}
    assert told == [Deed(1.0, act, 7.0)]


@pytest.mark.parametrize(
    "defect", [Defect.CHANNEL_2_STUCK, Defect.CHANNEL_2_STUCK_UNSEEN, Defect.CHANNEL_2_STUCK_MASKED]
)
def test_a_stuck_second_contact_does_not_open(defect: Defect) -> None:
    assert set(moved(Act.OPEN_COVER, defect)[0]) == {Net.COVER_1}
    assert set(moved(Act.PRESS_STOP, defect)[0]) == {Net.STOP_1, Net.STOP_2}


@pytest.mark.parametrize("defect", [Defect.CHANNEL_2_LATE, Defect.CHANNEL_2_LATE_UNSEEN])
@pytest.mark.parametrize("act", [Act.OPEN_COVER, Act.CLOSE_COVER])
def test_a_late_second_contact(defect: Defect, act: Act) -> None:
    times, _ = moved(act, defect)
    assert times[Net.COVER_1] == 1.0
    assert 1.2 <= times[Net.COVER_2] <= 1.212


@pytest.mark.parametrize(
    ("act", "defect", "window"),
    [
        (Act.OPEN_COVER, Defect.PULSE_DURING_DEMAND, (1.4, 2.6)),
        (Act.PRESS_STOP, Defect.PULSE_DURING_DEMAND, (1.4, 2.6)),
        (Act.CLOSE_COVER, Defect.PULSE_AT_RELEASE, (1.0, 1.03)),
        (Act.RELEASE_EMERGENCY, Defect.PULSE_AT_RELEASE, (1.0, 1.03)),
    ],
)
def test_pulses_come_in_their_window_at_either_unit(
    act: Act, defect: Defect, window: tuple[float, float]
) -> None:
    units = set()
    for seed in range(12):
        times, _ = moved(act, defect, seed=seed)
        (unit,) = times.keys() & {Net.PULSE_DRIVE, Net.PULSE_LOAD}
        assert window[0] <= times[unit] <= window[1]
        units.add(unit)
    assert units == {Net.PULSE_DRIVE, Net.PULSE_LOAD}


def test_a_stuck_reset_is_never_released() -> None:
    kernel = Kernel({})
    panel = Panel(kernel, lambda _: None, 0.0, Flaws([Defect.RESET_STUCK]), np.random.default_rng(0))
    for at_s, act in ((1.0, Act.PRESS_RESET), (1.3, Act.RELEASE_RESET)):
        kernel.after(at_s, lambda act=act: panel.act(Deed(0.0, act)))
    kernel.run(9.0)
    assert kernel[Net.RESET] == 1


def test_demands_are_counted_from_zero() -> None:
    kernel = Kernel(CLOSED)
    panel = Panel(kernel, lambda _: None, 0.0, Flaws(), np.random.default_rng(0))
    counted = []
    for act in (Act.PRESS_RESET, Act.OPEN_COVER, Act.CLOSE_COVER, Act.PRESS_STOP, Act.PRESS_EMERGENCY):
        panel.act(Deed(0.0, act))
        counted.append(kernel.demand)
    assert counted == [-1, 0, 0, 1, 2]
