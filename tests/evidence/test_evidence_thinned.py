"""Curves of a report are thinned for the page: what a reader could look for stays, and nothing is invented."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.evidence.pictures import thinned

MOST = 600

values = st.integers(-1000, 1000).map(float)


def curve(numbers: list[float]) -> list[tuple[int, float]]:
    return [(7 * place, value) for place, value in enumerate(numbers)]


@pytest.mark.parametrize("count", [0, 1, 2, MOST - 1, MOST])
def test_what_is_short_stays_as_it_is(count):
    samples = curve([float(place % 5) for place in range(count)])
    assert thinned(samples) == samples


@given(st.lists(values, min_size=1, max_size=50), st.integers(30, 90))
def test_of_a_long_one_at_most_so_many_samples_are_left_each_in_its_place(part, times):
    samples = curve(part * times)
    kept = thinned(samples)
    assert len(kept) <= MOST
    assert set(kept) <= set(samples)
    assert [at for at, _ in kept] == sorted(at for at, _ in kept)


@given(st.lists(values, min_size=20, max_size=60), st.integers(31, 60))
def test_first_last_least_and_greatest_stay(part, times):
    samples = curve(part * times)
    kept = thinned(samples)
    assert kept[0] == samples[0]
    assert {value for _, value in kept} >= {min(part), max(part)}
    assert kept[-1] == samples[-1]


@given(st.integers(0, 9999))
def test_a_spike_of_one_sample_is_never_lost(place):
    numbers = [0.0] * 10_000
    numbers[place] = 1.0
    assert (7 * place, 1.0) in thinned(curve(numbers))


@given(st.integers(0, 9999), st.integers(0, 9999))
def test_a_spike_up_and_one_down_are_both_kept(up, down):
    numbers = [0.0] * 10_000
    numbers[down] -= 1.0
    numbers[up] += 2.0
    kept = thinned(curve(numbers))
    assert (7 * up, numbers[up]) in kept
    assert up == down or (7 * down, -1.0) in kept
