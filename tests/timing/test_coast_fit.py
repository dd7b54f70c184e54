"""The fit finds the truth, and its uncertainty agrees with a reference library and with brute force."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit
from scipy.stats import t as student
from timing_records import DRY, NOISY, QUIET, SHAFT, Noise, Shaft, as_ns, coast_record, seconds

from interlock.timing.coast_fit import fit_coast
from interlock.timing.decay import decayed, time_between
from interlock.timing.inputs import NotIdentified, TimingError

RANDOM = 20240


def fit(shaft=SHAFT, start=200.0, noise=NOISY, seed=RANDOM, floor=5.0, **more):
    return fit_coast(*coast_record(shaft, start, noise, np.random.default_rng(seed), **more), floor=floor)


@settings(max_examples=40)
@given(
    coulomb=st.floats(0.05, 2.0),
    viscous=st.floats(0.0001, 0.01),
    start=st.floats(50, 400),
    period=st.floats(0.02, 0.1),
)
def test_without_noise_the_truth_is_found(coulomb, viscous, start, period) -> None:
    shaft = Shaft(coulomb=coulomb, viscous=viscous)
    found = fit(shaft, start, QUIET, period=period)
    assert found.coulomb == pytest.approx(coulomb / shaft.inertia, rel=1e-4)
    assert found.viscous == pytest.approx(viscous / shaft.inertia, rel=1e-3, abs=1e-6)
    assert found.start == pytest.approx(start, rel=1e-6)


def test_no_viscous_friction_at_all() -> None:
    found = fit(DRY, 200.0, Noise(0.1))
    assert found.coulomb == pytest.approx(0.35 / 0.045, rel=0.01)
    assert abs(found.viscous) < 4 * found.deviations[2]
    assert found.fits


def test_a_turn_backwards_is_a_turn() -> None:
    times, speeds = coast_record(SHAFT, 200.0, NOISY, np.random.default_rng(5))
    forwards, backwards = fit_coast(times, speeds, floor=5.0), fit_coast(times, -speeds, floor=5.0)
    assert backwards.coulomb == forwards.coulomb
    assert backwards.start == forwards.start


def test_covariance_against_a_reference_library() -> None:
    """40 samples are 40 blocks of one: then scipy's curve_fit must give the same, but for the memory's inflation."""
    instants = seconds(20.0, 0.5)
    shown = Noise(1.0).on(SHAFT.speed(200.0, instants), np.random.default_rng(8))
    found = fit_coast(as_ns(instants), shown, floor=0.001)
    values, covariance = curve_fit(lambda t, w, a, k: decayed(w, a, k, t), instants, shown, p0=[200, 8, 0.01])
    assert (found.start, found.coulomb, found.viscous) == pytest.approx(tuple(values), rel=1e-5)
    expected = np.sqrt(np.diag(covariance) * found.memory.inflation)
    assert found.deviations == pytest.approx(tuple(expected), rel=1e-3)
    assert found.freedom == 37


def test_the_region_against_brute_force() -> None:
    """All frictions on a grid whose least squares are within the limit, each solved for its start alone."""
    instants = seconds(20.0, 0.5)
    shown = Noise(2.0).on(SHAFT.speed(200.0, instants), np.random.default_rng(11))
    found = fit_coast(as_ns(instants), shown, floor=0.001)

    def left(a, k):
        shape, rest = np.exp(-k * instants), shown - decayed(0.0, a, k, instants)
        return float(np.sum((rest - shape * (shape @ rest) / (shape @ shape)) ** 2))

    limit = left(found.coulomb, found.viscous) * (
        1 + student.ppf(0.975, 37) ** 2 / 37 * found.memory.inflation
    )
    spread = 3 * np.array(found.deviations[1:])
    grid = [
        (a, k)
        for a in np.linspace(found.coulomb - spread[0], found.coulomb + spread[0], 151)
        for k in np.linspace(found.viscous - spread[1], found.viscous + spread[1], 151)
        if left(a, k) <= limit
    ]
    times = [time_between(a, k, 314.0, 1.0) for a, k in grid]
    low, high = found.region(0.95).band(lambda a, k: time_between(a, k, 314.0, 1.0))
    assert low <= min(times)
    assert max(times) <= high
    assert (low, high) == pytest.approx((min(times), max(times)), rel=0.003)


def test_more_confidence_is_a_wider_band() -> None:
    found = fit()
    bands = [
        found.region(share).band(lambda a, k: time_between(a, k, 300.0, 1.0)) for share in (0.5, 0.95, 0.999)
    ]
    assert bands[2][0] < bands[1][0] < bands[0][0] < bands[0][1] < bands[1][1] < bands[2][1]


def test_a_steady_error_of_the_speed_widens_the_band_enough() -> None:
    """The same shaft shown 1 rad/s too fast or too slow throughout."""
    instants = seconds(24.0, 0.05)
    truth = SHAFT.time(300.0, 1.0)
    for error in (-1.0, 1.0):
        shown = Noise(0.02).on(SHAFT.speed(200.0, instants) + error, np.random.default_rng(4))
        region = fit_coast(as_ns(instants), shown, floor=5.0).region()
        blind = region.band(lambda a, k: time_between(a, k, 300.0, 1.0))
        low, high = region.band(lambda a, k: time_between(a, k, 300.0, 1.0), offset=1.0)
        assert not blind[0] <= truth <= blind[1]
        assert low <= truth <= high


def test_memory_of_the_noise_is_in_the_uncertainty() -> None:
    """Noise with a memory of ten samples and equal spread: far less certain than white noise."""
    white = fit(noise=Noise(1.0), period=0.01)
    slow = fit(noise=Noise(1.0, memory=0.9), period=0.01)
    assert slow.deviations[1] > 2.5 * white.deviations[1]


def test_lone_zeros_do_not_decide() -> None:
    found = fit(noise=Noise(0.5, dropped=0.02), period=0.02)
    assert found.used.left_out > 10
    assert found.coulomb == pytest.approx(0.35 / 0.045, rel=0.05)


@pytest.mark.parametrize(
    ("speeds", "reason"),
    [
        (np.linspace(100, 200, 100), "does not fall"),
        (np.linspace(100, 50, 8), "8 samples"),
        (np.zeros(50), "0 samples"),
    ],
)
def test_records_that_are_no_coast_down(speeds, reason) -> None:
    with pytest.raises(NotIdentified, match=reason):
        fit_coast(as_ns(np.arange(len(speeds)) * 0.1), speeds, floor=1.0)


def test_too_short_a_piece_in_noise_bounds_nothing() -> None:
    """Half a second of 27: any friction explains it."""
    instants = seconds(0.5, 0.02)
    shown = Noise(5.0).on(SHAFT.speed(200.0, instants), np.random.default_rng(1))
    try:
        high = (
            fit_coast(as_ns(instants), shown, floor=5.0)
            .region()
            .band(lambda a, k: time_between(a, k, 200, 1))[1]
        )
    except NotIdentified:
        return
    assert high == np.inf


def test_odd_input() -> None:
    with pytest.raises(TimingError, match="floor"):
        fit_coast([0, 1], [1.0, 2.0], floor=0)
    with pytest.raises(TimingError, match="confidence"):
        fit().region(95)
    with pytest.raises(TimingError, match="integer nanoseconds"):
        fit_coast([0.0, 1.0], [1.0, 2.0], floor=1)
