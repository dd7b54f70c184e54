"""Sets of numbers as bits against Python's own sets: members, counts, and a field of the numbers shifted."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain import bitsets
from interlock.chain.bitsets import Shift, count, members, packed
from interlock.chain.layout import Words

SIZES = st.sampled_from([3, 6, 7, 9])


def as_bits(numbers: set[int], size: int) -> Words:
    return packed(np.isin(np.arange(1 << size), sorted(numbers)))


def subsets(size: int) -> st.SearchStrategy[set[int]]:
    return st.sets(st.integers(0, (1 << size) - 1))


@given(st.data(), SIZES)
def test_members_and_count(data: st.DataObject, size: int) -> None:
    numbers = data.draw(subsets(size))
    bits = as_bits(numbers, size)
    assert len(bits) == max(1, (1 << size) // 64)
    assert members(bits).tolist() == sorted(numbers)
    assert count(bits) == len(numbers)


def test_counting_without_numpy_2_gives_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    bits = np.array([0, 1, 2**64 - 1, 2**63], np.uint64)
    assert count(bits) == 1 + 64 + 1
    monkeypatch.delattr(bitsets.np, "bitwise_count", raising=False)
    assert count(bits) == 1 + 64 + 1


@st.composite
def shifts(draw: st.DrawFn) -> tuple[int, Shift]:
    """A size and a shift of a field that lies within the lowest six bits or above them."""
    size = draw(SIZES)
    low, high = draw(st.sampled_from([(0, min(size, 6)), (6, size)] if size > 6 else [(0, size)]))
    at = draw(st.integers(low, high - 1))
    width = draw(st.integers(1, min(3, high - at)))
    values = st.integers(0, (1 << width) - 1)
    return size, Shift(at, width, draw(values), draw(values))


@given(st.data(), shifts())
def test_a_shift_moves_the_chosen_numbers_and_adds_them(data: st.DataObject, case: tuple[int, Shift]) -> None:
    size, shift = case
    numbers, there = data.draw(subsets(size)), data.draw(subsets(size))
    chosen = np.array(data.draw(st.lists(st.booleans(), min_size=1 << size, max_size=1 << size)))
    cube = chosen.reshape(-1, 1 << shift.width, 1 << shift.low)[:, shift.of]
    field = (1 << shift.width) - 1 << shift.low
    moved = {
        (number & ~field) | shift.to << shift.low
        for number in numbers
        if chosen[number] and (number & field) >> shift.low == shift.of
    }
    bits, into = as_bits(numbers, size), as_bits(there, size)
    shift.apply(bits, shift.mask(cube), into, np.empty_like(bits))
    assert set(members(into).tolist()) == there | moved
    assert set(members(bits).tolist()) == numbers


@given(st.data(), SIZES)
def test_a_shift_of_no_field_moves_nothing(data: st.DataObject, size: int) -> None:
    numbers = data.draw(subsets(size))
    stay = Shift(max(size, 6), 0, 0, 0)
    bits = as_bits(numbers, size)
    into = np.zeros_like(bits)
    stay.apply(bits, stay.mask(np.ones((1, 1, 1 << size), np.bool_)[:, 0]), into, np.empty_like(bits))
    assert members(into).tolist() == sorted(numbers)
