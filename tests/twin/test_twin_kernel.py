"""The agenda and the nets' stories."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.twin.acts import Act, Deed, Scenario, humanly
from interlock.twin.kernel import Kernel, Track
from interlock.twin.nets import Net


@given(st.lists(st.floats(0.001, 10.0), max_size=30))
def test_happenings_come_in_order_of_time_whatever_the_order_of_asking(delays: list[float]) -> None:
    kernel, seen = Kernel({}), []
    for delay in delays:
        kernel.after(delay, lambda: seen.append(kernel.now))
    kernel.run(11.0)
    assert seen == sorted(delays)


def test_equal_times_keep_the_order_of_asking() -> None:
    kernel, seen = Kernel({}), []
    for k in range(5):
        kernel.after(1.0, lambda k=k: seen.append(k))
    kernel.run(1.0)
    assert seen == [0, 1, 2, 3, 4]


def test_nothing_due_later_than_the_end_happens() -> None:
    kernel, seen = Kernel({}), []
    kernel.after(2.0, lambda: seen.append(1))
    kernel.run(1.999)
    assert not seen


def test_only_a_change_is_heard_and_written_down() -> None:
    kernel, heard = Kernel({Net.RESET: 1}), []
    kernel.watch(lambda: heard.append(kernel.now), Net.RESET)
    for at, value in ((1.0, 1), (2.0, 0), (3.0, 0), (4.0, 1)):
        kernel.after(at, lambda value=value: kernel.put(Net.RESET, value))
    kernel.run(5.0)
    assert heard == [2.0, 4.0]
    assert kernel.tracks[Net.RESET].times == [0.0, 2.0, 4.0]
    assert kernel.tracks[Net.RESET].values == [1.0, 0.0, 1.0]


def test_a_track_holds_from_its_instant_on() -> None:
    track = Track([0.0, 1.0, 2.0], [0.0, 5.0, 7.0])
    seen = track.sample(np.array([2.5, 0.0, 0.999, 1.0, 1.999, 2.0, -1.0]))
    assert seen.tolist() == [7.0, 0.0, 0.0, 5.0, 5.0, 7.0, 0.0]


def test_two_changes_of_one_instant_are_one() -> None:
    track = Track()
    track.set(1.0, 1.0)
    track.set(1.0, 2.0)
    assert (track.times, track.values) == ([0.0, 1.0], [0.0, 2.0])


@pytest.mark.parametrize("times", [(2.0, 1.0), (-0.1,), (9.1,)])
def test_a_scenario_out_of_order_or_out_of_its_time_is_refused(times: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="in order"):
        Scenario(tuple(Deed(t, Act.START) for t in times), 9.0)


def test_humanly_moves_each_act_a_little_and_keeps_what_belongs_together() -> None:
    scenario = Scenario((Deed(1.0, Act.START), Deed(1.0, Act.SET_SPEED, 5.0), Deed(2.0, Act.OPEN_COVER)), 3.0)
    moved = humanly(scenario, np.random.default_rng(0), 0.01)
    start, speed, cover = moved.deeds
    assert 1.0 < start.at_s == speed.at_s < 1.01
    assert 2.0 < cover.at_s < 2.01
    assert speed.value == 5.0
    assert humanly(scenario, np.random.default_rng(0), 0.01) == moved
