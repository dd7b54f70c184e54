"""Odd stamps are found where they were put, and nowhere else."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.timing.inputs import TimingError
from interlock.timing.stamps import OddKind, blocked, odd_stamps, resolution_ns

MS = 1_000_000
EVEN = np.arange(200) * 10 * MS


def kinds(times, **more):
    return [(odd.kind, odd.index) for odd in odd_stamps(times, **more)]


def test_an_undisturbed_clock_is_not_odd() -> None:
    jitter = EVEN + np.random.default_rng(1).integers(-2 * MS, 2 * MS, size=200)
    assert odd_stamps(EVEN) == ()
    assert odd_stamps(jitter) == ()
    assert blocked(EVEN) is None
    assert blocked(jitter) is None


def test_a_step_back() -> None:
    times = EVEN.copy()
    times[100:] -= 3600 * 10**9
    (odd,) = odd_stamps(times)
    assert (odd.kind, odd.index) == (OddKind.STEP_BACK, 100)
    assert odd.by_ns == 10 * MS - 3600 * 10**9
    assert odd.at_ns == times[100]


def test_a_step_forward_looks_like_a_gap() -> None:
    times = EVEN.copy()
    times[50:] += 500 * MS
    assert kinds(times) == [(OddKind.GAP_OR_STEP, 50)]


def test_the_alive_counter_tells_them_apart() -> None:
    """The counter goes on by one: the clock stepped. By 51: fifty frames were lost and the clock is right."""
    times = EVEN.copy()
    times[50:] += 500 * MS
    one, lost = np.ones(199, dtype=int), np.ones(199, dtype=int)
    lost[49] = 51
    assert kinds(times, counted=one) == [(OddKind.STEP_FORWARD, 50)]
    assert kinds(times, counted=lost) == []


def test_duplicates() -> None:
    times = EVEN.copy()
    times[7] = times[6]
    assert kinds(times) == [(OddKind.DUPLICATE, 7)]


def test_a_stated_period_is_used_instead_of_the_median() -> None:
    assert kinds(EVEN, period_ns=MS)[0] == (OddKind.GAP_OR_STEP, 1)
    assert len(kinds(EVEN, period_ns=MS)) == 199
    assert kinds(EVEN, period_ns=MS, factor=11.0) == []


@given(st.lists(st.integers(0, 10**12), min_size=2, max_size=60))
def test_every_backward_or_equal_stamp_is_said(times) -> None:
    found = odd_stamps(times)
    expected = [i for i in range(1, len(times)) if times[i] <= times[i - 1]]
    assert [odd.index for odd in found if odd.kind in {OddKind.STEP_BACK, OddKind.DUPLICATE}] == expected
    assert [odd.index for odd in found] == sorted(odd.index for odd in found)


@pytest.mark.parametrize("step", [1, 100, 1000, 10_000, MS])
def test_resolution(step) -> None:
    times = np.unique(np.random.default_rng(4).integers(0, 10**6, 500)) * step
    assert resolution_ns(times) == step


def test_resolution_of_nothing() -> None:
    assert resolution_ns([]) == 0
    assert resolution_ns([5]) == 0
    assert resolution_ns([5, 5]) == 0


@given(st.integers(1, 10**9), st.lists(st.integers(0, 10**6), min_size=2, max_size=30))
def test_every_stamp_is_a_multiple_away(step, steps) -> None:
    times = np.array(steps) * step
    found = resolution_ns(times)
    if found:
        assert ((times - times[0]) % found == 0).all()
        assert found % step == 0


def in_blocks(true, size, spacing=1000):
    """A logger that stamps its buffer when it is full: the stamps of a block are its last instant."""
    last = np.minimum(np.arange(len(true)) // size * size + size - 1, len(true) - 1)
    return true[last] + np.arange(len(true)) % size * spacing


@pytest.mark.parametrize("size", [3, 8, 32])
def test_blocks_are_found_with_how_late_a_stamp_may_be(size) -> None:
    times = in_blocks(EVEN, size)
    found = blocked(times)
    assert found.size == size
    assert found.blocks == -(-200 // size)
    assert found.late_ns == pytest.approx(size * 10 * MS, rel=0.01)


@given(st.integers(3, 20), st.integers(0, 500))
def test_every_true_instant_lies_within_the_lateness(size, seed) -> None:
    true = np.cumsum(np.random.default_rng(seed).integers(9 * MS, 11 * MS, 200))
    stamps = in_blocks(true, size, spacing=10)
    found = blocked(stamps)
    later_blocks = slice(size, None)  # how long the first block took to fill is not in the record
    assert (stamps - true)[later_blocks].max() <= found.late_ns


def test_duplicate_stamps_of_a_block() -> None:
    assert blocked(in_blocks(EVEN, 8, spacing=0)).size == 8


def test_too_little_to_tell() -> None:
    assert blocked([0, 1, 2]) is None
    assert blocked([5] * 20) is None
    assert blocked([]) is None
    assert odd_stamps([]) == ()
    assert odd_stamps([7]) == ()


def test_odd_input() -> None:
    with pytest.raises(TimingError, match="integer nanoseconds"):
        odd_stamps([0.0, 1.0])
    with pytest.raises(TimingError, match="period_ns"):
        odd_stamps([0, 1], period_ns=0)
    with pytest.raises(TimingError, match="factor"):
        odd_stamps([0, 1], factor=0)
    with pytest.raises(TimingError, match="steps of the counter"):
        odd_stamps([0, 1, 2], counted=[1])
