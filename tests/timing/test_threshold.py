"""No single sample decides, and the bounds hold the truth for any sampling and any allowed fault of the sensor."""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from timing_records import SHAFT, Noise, as_ns, seconds

from interlock.interval import Interval
from interlock.timing.inputs import TimingError
from interlock.timing.threshold import EXACT, Sensor, last_above
from interlock.timing.track import Clock

LONG_AGO = -(2**62)
PLAIN = Sensor(bound=0.0)
LEVEL = 10.0


def crossing(values, sensor=PLAIN, clock=EXACT):
    return last_above(np.arange(len(values)) * 10, values, LEVEL, sensor, clock)


def test_one_clean_step() -> None:
    """Above up to stamp 20, below from 30 on; a second sample below is needed, in case the first is bad."""
    assert crossing([20, 20, 20, 0, 0, 0]).at == Interval(10, 40)


def test_one_clean_step_of_a_sensor_that_never_errs() -> None:
    assert crossing([20, 20, 20, 0, 0, 0], Sensor(0.0, bad=0)).at == Interval(20, 30)


def test_lone_zeros_long_before_standstill_do_not_decide() -> None:
    found = crossing([20, 0, 20, 20, 0, 20, 20, 20, 0, 0, 0])
    assert found.at == Interval(60, 90)
    assert found.apart == (10, 40)
    assert found.returned == ()


def test_a_lone_spike_after_standstill_does_not_decide() -> None:
    found = crossing([20, 20, 20, 0, 0, 0, 99, 0, 0, 0])
    assert found.at == Interval(10, 40)
    assert found.apart == (60,)


def test_two_neighbours_do_decide() -> None:
    found = crossing([20, 20, 20, 0, 0, 0, 20, 20, 0, 0, 0])
    assert found.at == Interval(60, 90)
    assert found.returned == (60,)


def test_not_yet_below_at_the_end() -> None:
    assert crossing([20, 20, 20]).at == Interval(10, None)
    assert crossing([20, 20, 20, 0]).at == Interval(10, None)


def test_never_above() -> None:
    found = crossing([0, 0, 0])
    assert found.at == Interval(LONG_AGO, 10)
    assert not found.was_above


def test_near_the_level_nothing_is_sure() -> None:
    """9 to 11 may be either side for an error of 1; the level itself is not above."""
    found = crossing([20, 20, 11, 10, 9, 0, 0, 0], Sensor(1.0))
    assert found.at == Interval(0, 60)


def test_hysteresis_is_a_wider_doubt() -> None:
    values = [20, 20, 13, 13, 7, 7, 0, 0]
    assert crossing(values).at == Interval(20, 50)
    assert crossing(values, Sensor(0.0, hysteresis=5.0)).at == Interval(0, 70)


def test_a_missing_number_is_no_evidence() -> None:
    assert crossing([20, 20, 20, np.nan, np.nan, 0, 0, 0]).at == Interval(10, 60)
    assert crossing([20, 20, 20, 0, 0, np.nan, np.nan]).at.hi is None


def test_the_stamps_delay_widens_the_bounds() -> None:
    found = crossing([20, 20, 20, 0, 0, 0], clock=Clock(least_ns=1, most_ns=5, width_ns=2))
    assert found.at == Interval(10 - 7, 40 + 1)


def test_a_rise_is_the_fall_of_the_negative() -> None:
    rising = -np.array([0, 0, 20, 20, 20.0])
    assert last_above(np.arange(5) * 10, rising, -LEVEL, PLAIN).at == Interval(0, 30)


def test_standstill_of_a_shaft_with_dropped_samples() -> None:
    """Made record: the first zero sample lies seconds before the truth, the bounds hold it."""
    instants = seconds(24.0, 0.01)
    random = np.random.default_rng(4)
    speeds = SHAFT.speed(200.0, instants) + random.uniform(-0.5, 0.5, size=len(instants))
    speeds[100::170] = 0.0
    speeds[2290::60] = 40.0
    truth = SHAFT.time(200.0, 5.0)
    found = last_above(as_ns(instants), np.abs(speeds), 5.0, Sensor(0.5))
    assert instants[np.flatnonzero(speeds == 0.0)[0]] < truth - 10
    assert round(truth * 1e9) in found.at
    assert found.at.hi - found.at.lo < 0.3e9
    assert len(found.apart) > 10


def test_plain_noise_of_a_shaft_at_rest_is_no_motion() -> None:
    random = np.random.default_rng(4)
    noisy = np.abs(Noise(0.2).on(np.zeros(5000), random))
    found = last_above(np.arange(5000), noisy, 1.0, Sensor(0.2))
    assert found.at.hi == 1


@dataclass(frozen=True)
class World:
    """A quantity that is above its level in some stretches, and how a sensor with faults saw it."""

    last: float  # the true last instant above
    times: list
    values: list
    sensor: Sensor
    clock: Clock


@st.composite
def worlds(draw, *, bad=None):
    """Any sampling, any error within the bound, bad samples as rare as stated, phases long enough to be seen."""
    bad = draw(st.integers(0, 2)) if bad is None else bad
    sensor = Sensor(draw(st.floats(0, 3)), bad, draw(st.floats(0, 2)))
    clock = Clock(draw(st.integers(0, 20)), draw(st.integers(20, 60)), draw(st.integers(0, 3)))
    least = 2 * bad + 1
    phases = draw(st.lists(st.integers(least, least + 6), min_size=1, max_size=4))
    truth = [side for place, size in enumerate(phases) for side in [place % 2 == 0] * size]
    gaps = draw(st.lists(st.integers(50, 200), min_size=len(truth) + 1, max_size=len(truth) + 1))
    instants = np.cumsum(gaps)
    final = max(i for i, above in enumerate(truth) if above)
    end = instants[final + 1] if final + 1 < len(instants) else instants[final] + 50
    last = draw(st.floats(float(instants[final]), float(end), exclude_max=True))
    values, since = [], least
    for above in truth:
        far = draw(st.floats(0.01, 8)) * (1 if above else -1)
        error = draw(st.floats(-1, 1)) * sensor.bound
        spoilt = since >= least and bad > 0 and draw(st.booleans())
        values.append(draw(st.floats(-100, 100)) if spoilt else LEVEL + far + error)
        since = 1 if spoilt else since + 1
    stamps = [int(at) + draw(st.integers(clock.least_ns, clock.most_ns)) for at in instants[: len(truth)]]
    return World(last, list(np.maximum.accumulate(stamps)), values, sensor, clock)


@settings(max_examples=250)
@given(worlds())
def test_the_bounds_hold_the_truth_for_any_sampling(world) -> None:
    found = last_above(world.times, world.values, LEVEL, world.sensor, world.clock).at
    assert found.lo <= world.last
    assert found.hi is None or world.last <= found.hi


@settings(max_examples=150)
@given(worlds(), st.integers(0, 2**31))
def test_lost_samples_never_tell_more_than_all(world, seed) -> None:
    """With samples replaced by no evidence, no bound gets tighter."""
    lost = np.random.default_rng(seed).random(len(world.values)) < 0.3
    values = np.where(lost, np.nan, world.values)
    full = last_above(world.times, world.values, LEVEL, world.sensor).at
    less = last_above(world.times, values, LEVEL, world.sensor).at
    assert less.lo <= full.lo
    assert less.hi is None or (full.hi is not None and full.hi <= less.hi)


def explained(times, values, sensor, last, *, ends_after) -> bool:
    """Whether a quantity that falls once, just after (or just before) `last`, explains the samples."""
    above = times <= last if ends_after else times < last
    surely, surely_not = values > LEVEL + sensor.bound, values < LEVEL - sensor.bound
    bad = np.where(above, surely_not, surely)
    windows = np.convolve(bad, np.ones(2 * sensor.bad + 1), mode="full")
    return bool((windows <= sensor.bad).all())


@settings(max_examples=200)
@given(st.integers(0, 12), st.integers(6, 12), st.integers(0, 1000), st.floats(0, 3))
def test_the_bounds_are_attained(before, after, seed, bound) -> None:
    """For a quantity that falls once, another one just at either bound explains the same samples."""
    random = np.random.default_rng(seed)
    truth = np.concatenate([np.full(before + 6, 20.0), np.zeros(after)])
    values = truth + random.uniform(-bound, bound, size=len(truth))
    values[random.integers(3)] = 0.0
    values[-1 - random.integers(2)] = 20.0
    times, sensor = np.arange(len(values)) * 10, Sensor(bound)
    found = last_above(times, values, LEVEL, sensor).at
    assert explained(times, values, sensor, found.lo, ends_after=True)
    if found.hi is not None:
        assert explained(times, values, sensor, found.hi, ends_after=False)


@pytest.mark.parametrize(
    ("change", "why"),
    [({"bound": -1}, "largest error"), ({"bad": -1}, "bad"), ({"hysteresis": np.inf}, "dead band")],
)
def test_odd_sensors(change, why) -> None:
    with pytest.raises(TimingError, match=why):
        Sensor(**{"bound": 1.0, **change})


def test_odd_records() -> None:
    for times, values in (([], []), ([0, 10], [1.0]), ([10, 0], [1.0, 2.0]), ([0.0], [1.0])):
        with pytest.raises(TimingError):
            last_above(times, values, LEVEL, PLAIN)
    with pytest.raises(TimingError, match="level"):
        last_above([0], [1.0], np.nan, PLAIN)
