"""The measured stop: an upper bound from top speed, never less than any stop seen, absent where one is not known."""

import shutil
from math import log
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_tape import BENCH_FILE, BUTTON, BUTTON_2, COVER, COVER_2, COVER_3, DRV, ESTOP, found, heard, sound

from interlock.bench import load_bench
from interlock.replay import judge_trace
from interlock.replay.stop_time import reckoned_up, stop_times

COVERS = (COVER, COVER_2, COVER_3)


def longest_s(judgement, function: str) -> float:
    ends = [one.latency.hi for one in found(judgement, "standstill", function=function)]
    return max(ends) / 1e9


def test_every_function_with_standstill_has_a_bound_above_all_its_stops() -> None:
    judgement = heard(sound())
    bounds = stop_times(judgement)
    assert set(bounds) == {"cover_stop", "button_stop", "emergency_stop"}
    for name, bound in bounds.items():
        assert bound.upper_s >= longest_s(judgement, name) * 1500 / 1440
        assert bound.effect == "standstill"
    assert [bounds[name].repeats for name in ("cover_stop", "button_stop", "emergency_stop")] == [3, 2, 1]


@pytest.mark.parametrize("rpm", [800.0, 1000.0, 1200.0])
def test_reckoned_up_from_less_speed_it_holds_for_top_speed(rpm) -> None:
    """Coulomb and viscous friction (the log generator's): no slower stop may promise a shorter one from 1440 1/min."""
    slow, fast = stop_times(heard(sound(rpm=rpm))), heard(sound())
    for name, bound in slow.items():
        assert bound.upper_s >= longest_s(fast, name)


def coast_s(speed: float, below: float, coulomb: float, viscous: float) -> float:
    """Closed form of J dw/dt = -(a + b w), J = 1: ln((a + b w) / (a + b w0)) / b; without b the braking is even."""
    if viscous == 0:
        return (speed - below) / coulomb
    return log((coulomb + viscous * speed) / (coulomb + viscous * below)) / viscous


@given(
    st.floats(1500, 3000),
    st.floats(0, 500),
    st.floats(1, 1000),
    st.just(0.0) | st.floats(0.001, 10),
    st.floats(0, 0.2),
)
def test_no_stop_from_top_speed_takes_longer_than_reckoned(speed, below, coulomb, viscous, dead_s) -> None:
    """Friction that is even or grows with speed; the dead time before it is the same at any speed."""
    seen, true = (dead_s + coast_s(one, below, coulomb, viscous) for one in (speed, 3000.0))
    assert reckoned_up(seen, speed, 3000, below) >= true * (1 - 1e-9)


def test_speed_is_lost_down_to_standstill_only() -> None:
    """Even braking by 100 1/min each second until below 10: 14.9 s from 1500 1/min, 29.9 s from 3000 (computed)."""
    assert reckoned_up(14.9, 1500, 3000, 10) == pytest.approx(29.9)
    assert reckoned_up(14.9, 3010, 3000, 10) == 14.9


def test_stops_from_less_than_half_the_top_speed_say_nothing_of_it() -> None:
    assert stop_times(heard(sound(rpm=700.0))) == {}


def test_one_stop_is_said_to_be_one() -> None:
    bound = stop_times(heard(sound()))["emergency_stop"]
    assert "1 stop(s)" in bound.sentence
    assert "too few" in bound.sentence


def test_a_stop_whose_end_was_not_seen_leaves_its_function_without_a_bound() -> None:
    tape = sound()
    judgement = heard(tape.drop(None, COVER_3.on + 2.0))
    assert set(stop_times(judgement)) == {"button_stop", "emergency_stop"}


@pytest.mark.parametrize(
    ("stop", "name"), [(COVER, "cover_stop"), (BUTTON_2, "button_stop"), (ESTOP, "emergency_stop")]
)
def test_a_stop_from_a_speed_that_was_not_shown_leaves_its_function_without_a_bound(stop, name) -> None:
    judgement = heard(sound().drop(DRV, stop.on - 0.5, stop.on + 0.02))
    assert name not in stop_times(judgement)


def test_a_longer_stop_lengthens_the_bound_though_the_others_were_short() -> None:
    before = stop_times(heard(sound()))["button_stop"].upper_s
    tape = sound().put("DrvSpeed", 6.0, BUTTON.on + 4.5, BUTTON.start - 0.1)  # creeps on; 5 1/min are allowed
    assert stop_times(heard(tape))["button_stop"].upper_s > before + 0.3


def test_the_other_way_round_is_the_same() -> None:
    there, back = sound(), sound()
    back._write("DrvSpeed", lambda shown: -shown, -1.0, 1e6)
    assert {name: one.upper_s for name, one in stop_times(heard(back)).items()} == {
        name: one.upper_s for name, one in stop_times(heard(there)).items()
    }


def test_torque_off_is_no_stop(tmp_path: Path) -> None:
    """A function that asks for no standstill gets no stop time: the shaft goes on turning."""
    for file in BENCH_FILE.parent.iterdir():
        shutil.copyfile(file, tmp_path / file.name)
    text = BENCH_FILE.read_text()
    wanted = "      demand: button\n      stop_category: 0\n      effects: [torque_off, references_zero, standstill]"
    assert wanted in text
    (tmp_path / "bench.yaml").write_text(text.replace(wanted, wanted.replace(", standstill", "")))
    judgement = judge_trace(load_bench(tmp_path / "bench.yaml"), sound().trace())
    assert set(stop_times(judgement)) == {"cover_stop", "emergency_stop"}
