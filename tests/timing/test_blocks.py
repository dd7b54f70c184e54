"""Block means keep what matters, the test of their memory errs as often as stated, and spikes are found."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter

from interlock.timing.blocks import MOST_BLOCKS, Blocks, isolated, memory


def blocks(values) -> Blocks:
    found = np.asarray(values, dtype=float)
    return Blocks.of(np.arange(len(found)) / 100, found)


@given(st.integers(1, 500))
def test_every_sample_is_in_one_block(count) -> None:
    cut = blocks(np.ones(count))
    sizes = np.diff(np.append(cut.starts, count))
    assert len(cut.starts) == min(count, MOST_BLOCKS)
    assert sizes.sum() == count
    assert sizes.max() - sizes.min() <= 1
    assert cut.weights == pytest.approx(1 / np.sqrt(sizes))


@given(st.integers(1, 300), st.integers(0, 10**6))
def test_white_noise_keeps_its_spread(count, seed) -> None:
    """A sum over the root of its count has the variance of one sample: checked by the weights themselves."""
    cut = blocks(np.random.default_rng(seed).normal(size=count))
    ones = cut.weighed(np.eye(count))
    assert (ones**2).sum(axis=1) == pytest.approx(1)


def test_columns_are_summed_apart() -> None:
    columns = np.arange(200.0).reshape(100, 2)
    cut = blocks(np.zeros(100))
    assert cut.weighed(columns)[:, 1] == pytest.approx(cut.weighed(columns[:, 1]))
    assert cut.weighed(columns).shape == (48, 2)


def test_residuals_are_model_minus_record() -> None:
    cut = blocks([1.0, 2.0, 3.0])
    assert cut.residuals(lambda t: t * 0 + 5) == pytest.approx([4, 3, 2])


def test_memory_by_hand() -> None:
    """1, -1, 1, -1: squares 4, differences 3 · 4; 1 - 12/4/2 = -0.5, and (2 - 1)/(4 - 2) more for two fitted."""
    found = memory(np.array([1.0, -1.0, 1.0, -1.0]), fitted=2)
    assert found.correlation == pytest.approx(0.0)
    assert found.p_value == pytest.approx(0.5)
    assert found.inflation == 1.0
    assert memory(np.zeros(10), 2) == memory(np.zeros(20), 3)


def test_a_record_without_memory_is_refused_as_often_as_stated() -> None:
    """4000 series of white noise, a straight line taken out of each: p below 1 % in about 1 % of them."""
    random = np.random.default_rng(41)
    line = np.stack([np.ones(48), np.arange(48.0)], axis=1)
    project = np.eye(48) - line @ np.linalg.pinv(line)
    small = [memory(project @ random.normal(size=48), 2).p_value < 0.01 for _ in range(4000)]
    assert 0.004 < np.mean(small) < 0.016


def test_structure_is_seen() -> None:
    wave = np.sin(np.linspace(0, 6, 48)) + 0.1 * np.random.default_rng(3).normal(size=48)
    assert memory(wave, 3).p_value < 1e-6


@pytest.mark.parametrize(("height", "seen"), [(1e-9, False), (0.9e-7, False), (2e-7, True), (1e-3, True)])
def test_what_rounding_leaves_is_no_structure(height, seen) -> None:
    """A perfect record leaves a smooth rest of the solver's last digits; a rest one can see is structure."""
    wave = height * np.sqrt(2) * np.sin(np.linspace(0, 6, 48))
    assert (memory(wave, 3).p_value < 0.01) is seen


def test_memory_inflates_as_theory_says() -> None:
    """The variance of a mean of AR(1) noise is (1 + r)/(1 - r) times that of white noise (textbook)."""
    random = np.random.default_rng(9)
    found = [memory(lfilter([1], [1, -0.5], random.normal(size=20_000)), 1).inflation for _ in range(20)]
    assert np.mean(found) == pytest.approx(3.0, rel=0.05)


def falling(count, sigma, seed):
    return 200 * np.exp(-np.linspace(0, 2, count)) + sigma * np.random.default_rng(seed).normal(size=count)


@given(st.integers(20, 200), st.integers(0, 1000), st.data())
def test_lone_zeros_are_found_anywhere(count, seed, data) -> None:
    values = falling(count, 0.5, seed)
    places = data.draw(
        st.lists(st.integers(0, count - 1), min_size=1, max_size=max(1, count // 25), unique=True)
    )
    places = [at for at in places if all(at == other or abs(at - other) > 4 for other in places)]
    values[places] = 0.0
    assert isolated(values)[places].all()


@given(st.integers(12, 400), st.floats(0, 5), st.integers(0, 1000))
def test_plain_noise_is_hardly_ever_taken_for_spikes(count, sigma, seed) -> None:
    assert isolated(falling(count, sigma, seed)).sum() <= max(1, 0.05 * count)


@pytest.mark.parametrize("step", [0.5, 1.0, 4.0])
def test_steps_of_resolution_are_no_spikes(step) -> None:
    values = np.round(falling(300, 0.3, 7) / step) * step
    assert isolated(values).sum() == 0


def test_too_few_samples_to_tell() -> None:
    assert not isolated(np.array([5.0, 0.0, 5.0])).any()
    assert not isolated(np.array([5.0, 5.0, 5.0, 5.0, 5.0])).any()
