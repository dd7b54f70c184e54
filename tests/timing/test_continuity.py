"""A quantity with inertia does not leap: whole records raise nothing, cut ones are told at the joint.

The records are the elementary solutions of a shaft that is driven up with a time constant and coasts by viscous and
Coulomb friction (as in tests/timing/timing_records.py, written anew here); nothing of the package makes them.
"""

from math import log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.timing.continuity import Leap, leaps

MS = 10**6
TOP, RISES_S, COASTS_S, EACH_S = 1500.0, 0.12, 2.0, 6.0
ON_S = 2.0  # of each round the first part is driven


def speed(t: np.ndarray) -> np.ndarray:
    """1/min; rounds of EACH_S: driven from rest, then coasting until it rests."""
    since = np.mod(t, EACH_S)
    driven = TOP * (1 - np.exp(-since / RISES_S))
    friction = TOP * 0.5 / COASTS_S  # half of it does not depend on speed
    rate = 2 * log(2) / COASTS_S
    coasting = (TOP + friction / rate) * np.exp(-rate * (since - ON_S)) - friction / rate
    return np.where(since < ON_S, driven, np.maximum(coasting, 0.0))


def record(
    period_ms: float, noise: float = 0.5, seed: int = 1, rounds: int = 4
) -> tuple[np.ndarray, np.ndarray]:
    """Stamps and values; stamps stray by a tenth of a period."""
    random = np.random.default_rng(seed)
    t = np.arange(0.01, rounds * EACH_S, period_ms / 1e3)
    stray = random.uniform(0, period_ms / 1e4, len(t))
    return np.rint((t + stray) * 1e9).astype(np.int64), speed(t) + random.uniform(-noise, noise, len(t))


def cut(
    times: np.ndarray, values: np.ndarray, lo_s: float, hi_s: float
) -> tuple[np.ndarray, np.ndarray, int]:
    """A piece is taken out and the ends joined; and the last sample before it."""
    first, stop = np.searchsorted(times, [lo_s * 1e9, hi_s * 1e9]).tolist()
    after = times[stop:] - round((hi_s - lo_s) * 1e9)
    return np.concatenate((times[:first], after)), np.concatenate((values[:first], values[stop:])), first - 1


def found(
    times: np.ndarray, values: np.ndarray, period_ms: float = 4, alike: np.ndarray | None = None
) -> list[Leap]:
    every = np.ones(len(times) - 1, np.bool_) if alike is None else alike
    period = round(period_ms * MS)
    return leaps(times, values, period, every, down=False, within_ns=30 * MS)


@pytest.mark.parametrize("noise", [0.0, 0.5, 10.0])
@pytest.mark.parametrize("period_ms", [1, 4, 10, 20])
def test_a_whole_record_raises_nothing(period_ms: float, noise: float) -> None:
    assert found(*record(period_ms, noise), period_ms) == []


@pytest.mark.parametrize(
    ("lo_s", "hi_s", "up"),
    [
        (1.5, 3.0, False),
        (1.5, 5.5, False),
        (3.5, 7.5, True),
        (2.3, 3.3, False),
        (5.0, 8.5, True),
        (2.9, 6.4, True),
    ],
    ids=[
        "into the coast",
        "the whole stop",
        "rest to drive",
        "within the coast",
        "rest into coast",
        "coast to drive",
    ],
)
def test_a_cut_is_told_at_its_joint(lo_s: float, hi_s: float, up: bool) -> None:
    times, values, at = cut(*record(4), lo_s, hi_s)
    (leap,) = found(times, values)
    assert leap.at == at
    assert (leap.by > 0) is up
    assert leap.by == pytest.approx(float(speed(np.array(hi_s)) - speed(np.array(lo_s))), abs=30)
    assert leap.times > 3


def test_what_the_cut_leaves_alike_on_both_sides_does_not_show() -> None:
    """Should not be told: from running to running, from rest to rest. What this check cannot see is known."""
    for lo, hi in ((1.5, 7.6), (5.0, 5.7)):
        assert found(*cut(*record(4), lo, hi)[:2]) == []


@given(st.floats(2.05, 3.5), st.floats(0.02, 1.4), st.sampled_from([2.0, 4.0, 10.0]))
def test_among_steps_of_coasting_alone_a_shorter_cut_shows(
    lo_s: float, length_s: float, period_ms: float
) -> None:
    """A leap of six times the steepest step of a coast-down is told, one of two never.

    No start within a second after it: that may take the leap back, as a sensor does that failed for a moment.
    """
    times, values, at = cut(*record(period_ms, noise=0.0), EACH_S + lo_s, EACH_S + lo_s + length_s)
    since = np.mod(times / 1e9 + np.where(np.arange(len(times)) > at, length_s, 0), EACH_S)
    coasting = (since[:-1] > ON_S + 0.02) & (since[1:] > ON_S + 0.02)
    steepest = float(np.diff(speed(np.array([ON_S, ON_S + period_ms / 1e3])))[0])
    by = float(values[at + 1] - values[at])
    told = found(times, values, period_ms, coasting)
    if by < 6 * steepest and not (values[at + 1] < 0.1 * -by and -by < 0.1 * TOP):
        assert [one.at for one in told] == [at]
    if by > 2 * steepest:
        assert told == []


def test_what_coasts_does_not_turn_faster_by_itself() -> None:
    """From one coast-down to a little higher in the next: a start goes as steep, so that alone tells nothing."""
    times, values, at = cut(*record(10), 3.5, EACH_S + 3.4)
    shown = np.mod(times / 1e9 + np.where(np.arange(len(times)) > at, EACH_S - 0.1, 0), EACH_S) > ON_S + 0.02
    assert [one.at for one in found(times, values, 10, shown[:-1] & shown[1:])] == [at]
    assert found(times, values, 10) == []


def dropped(values: np.ndarray, at: int, count: int) -> np.ndarray:
    spoilt = values.copy()
    spoilt[at : at + count] = 0.0
    return spoilt


SENSORS = {
    "a lone sample lost": lambda v: dropped(v, 375, 1),
    "lost for a moment": lambda v: dropped(v, 375, 40),
    "lost for half a second in the coast-down": lambda v: dropped(v, 520, 125),
    "lost for nearly a second in the coast-down": lambda v: dropped(v, 520, 240),
    "lost again and again": lambda v: dropped(dropped(dropped(v, 375, 9), 1875, 9), 3375, 9),
    "a lone outlier": lambda v: np.where(np.arange(len(v)) == 375, 3000.0, v),
    "shows nothing below 60 1/min": lambda v: np.where(np.abs(v) < 60, 0.0, v),
    "shows steps of 50 1/min": lambda v: np.round(v / 50) * 50,
    "renewed every 20 ms": lambda v: v[np.arange(len(v)) // 5 * 5],
    "noise of 100 1/min": lambda v: v + np.random.default_rng(3).uniform(-100, 100, len(v)),
}


@pytest.mark.parametrize("sensor", SENSORS.values(), ids=SENSORS)
def test_the_ways_of_sensors_are_no_leap(sensor) -> None:  # type: ignore[no-untyped-def]
    times, values = record(4)
    assert found(times, sensor(values)) == []


def test_a_sensor_that_fails_for_good_is_one() -> None:
    """Nobody can tell it from a cut."""
    times, values = record(4)
    (leap,) = found(times, dropped(values, 1875, len(values)))
    assert leap.at == 1874


def test_a_record_that_shows_no_such_change_step_by_step_tells_nothing() -> None:
    """Should not be told: the only start of a drive that is quicker than the samples, or all of them."""
    times, _ = record(20)
    t = times / 1e9
    for every in (1e9, EACH_S):
        assert found(times, np.where(np.mod(t, every) > 1.0, TOP, 0.0), 20) == []


def test_nor_do_samples_too_far_apart() -> None:
    times, values, _ = cut(*record(100), 1.5, 5.5)
    assert found(times, values, 100) == []


def test_lost_frames_are_no_leap() -> None:
    times, values = record(4)
    random = np.random.default_rng(4)
    kept = random.random(len(times)) > 0.3
    assert found(times[kept], values[kept]) == []


@given(st.sampled_from([-7.0, -1.0, 0.01, 50.0]), st.integers(0, 10**15))
def test_neither_unit_nor_sign_nor_zero_of_time_matters(scale: float, since: int) -> None:
    times, values, at = cut(*record(4), 1.5, 3.0)
    (plain,), (other,) = found(times, values), found(times + since, values * scale)
    assert (other.at, other.by) == (at, pytest.approx(plain.by * scale))
    assert other.times == pytest.approx(plain.times)


def test_two_cuts_of_one_kind_do_not_hide_each_other() -> None:
    times, values, second = cut(*record(4), 7.5, 9.0)
    times, values, first = cut(times, values, 1.5, 3.0)
    removed = np.searchsorted(record(4)[0], [1.5e9, 3.0e9])
    assert [one.at for one in found(times, values)] == [first, second - int(removed[1] - removed[0])]
