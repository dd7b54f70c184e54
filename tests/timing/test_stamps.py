"""Blocks of stamps are found where they were put, and nowhere else."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.timing.inputs import TimingError
from interlock.timing.stamps import blocked

MS = 1_000_000
EVEN = np.arange(200) * 10 * MS


def test_an_undisturbed_clock_gives_no_blocks() -> None:
    jitter = EVEN + np.random.default_rng(1).integers(-2 * MS, 2 * MS, size=200)
    assert blocked(EVEN) is None
    assert blocked(jitter) is None


def in_blocks(true, size, spacing=1000):
    """A logger that stamps its buffer when it is full: the stamps of a block are its last instant."""
    last = np.minimum(np.arange(len(true)) // size * size + size - 1, len(true) - 1)
    return true[last] + np.arange(len(true)) % size * spacing


@pytest.mark.parametrize("size", [3, 8, 32])
def test_blocks_are_found_with_their_distance(size) -> None:
    times = in_blocks(EVEN, size)
    found = blocked(times)
    assert found.size == size
    assert found.every_ns == pytest.approx(size * 10 * MS, rel=0.01)


def test_a_pause_between_blocks_is_not_their_usual_distance() -> None:
    times = in_blocks(EVEN, 4)
    found = blocked(np.concatenate([times[:100], times[100:] + 1000 * MS]))
    assert found.every_ns == pytest.approx(40 * MS, rel=0.01)


@given(st.integers(3, 20), st.integers(0, 500))
def test_blocks_of_a_sender_that_wanders_are_found(size, seed) -> None:
    true = np.cumsum(np.random.default_rng(seed).integers(9 * MS, 11 * MS, 200))
    found = blocked(in_blocks(true, size, spacing=10))
    assert found.size == size
    assert found.every_ns == pytest.approx(size * 10 * MS, rel=0.1)


def test_duplicate_stamps_of_a_block() -> None:
    assert blocked(in_blocks(EVEN, 8, spacing=0)).size == 8


def test_too_little_to_tell() -> None:
    assert blocked([0, 1, 2]) is None
    assert blocked([5] * 20) is None
    assert blocked([]) is None


@pytest.mark.parametrize("stamps", [[0.0, 1.0], [[0, 1], [2, 3]]], ids=["float", "table"])
def test_odd_input(stamps) -> None:
    with pytest.raises(TimingError, match="integer nanoseconds"):
        blocked(stamps)
