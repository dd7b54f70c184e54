"""Odd input ends in one clear error that names it, and belongs to the one error tree."""

from decimal import Decimal

import numpy as np
import pytest

from interlock.errors import InterlockError
from interlock.timing.inputs import (
    NotIdentified,
    TimingError,
    at_least_zero,
    finite_number,
    fraction,
    positive,
    readings,
    record,
    stamps,
    whole,
)

ODD = [None, "1", True, float("nan"), float("inf"), float("-inf"), 1j, [], Decimal("NaN")]


@pytest.mark.parametrize("check", [finite_number, positive, at_least_zero, fraction])
@pytest.mark.parametrize("value", ODD, ids=repr)
def test_numbers_that_are_none(check, value) -> None:
    with pytest.raises(TimingError, match="the figure is"):
        check("the figure", value)


@pytest.mark.parametrize(
    ("check", "good", "bad"),
    [
        (positive, [1e-9, 5, np.float32(2)], [0, -1e-9]),
        (at_least_zero, [0, 0.0, 5], [-1e-9]),
        (fraction, [1e-9, 0.95], [0, 1, 95]),
        (finite_number, [-5, 0, 1e300, np.int64(3)], []),
    ],
)
def test_ranges(check, good, bad) -> None:
    for value in good:
        assert check("x", value) == float(value)
    for value in bad:
        with pytest.raises(TimingError, match="x is"):
            check("x", value)


def test_the_need_is_said() -> None:
    with pytest.raises(TimingError, match="give volts"):
        positive("highest_v", 0, "give volts")


@pytest.mark.parametrize("value", [-1, 1.0, True, None, "3", np.float64(2)])
def test_whole_numbers(value) -> None:
    assert whole("n", np.int64(3)) == 3
    with pytest.raises(TimingError, match="whole number"):
        whole("n", value)


def test_stamps_are_integers_that_never_fall() -> None:
    assert stamps([1, 2, 2]).dtype == np.int64
    assert stamps([]).size == 0
    assert stamps(np.array([1, 5], dtype=np.uint32)).tolist() == [1, 5]
    for bad, why in (([1.0, 2.0], "integer nanoseconds"), ([[1, 2]], "shape"), ([1, 3, 2], "stamp 2")):
        with pytest.raises(TimingError, match=why):
            stamps(bad)


def test_a_record_is_whole() -> None:
    times, values = record([0, 1], [5, 6])
    assert values.tolist() == [5.0, 6.0]
    assert times.tolist() == [0, 1]
    for bad, why in (
        ([1.0], "one value a stamp"),
        ([1.0, np.nan], "value 1 is nan"),
        ([np.inf, 1], "value 0 is inf"),
    ):
        with pytest.raises(TimingError, match=why):
            record([0, 1], bad)


def test_readings_name_the_odd_one() -> None:
    assert readings("stop", iter([1, 2.5]), 2).tolist() == [1.0, 2.5]
    with pytest.raises(TimingError, match="stop 2 is nan"):
        readings("stop", [1.0, float("nan")], 1)
    with pytest.raises(TimingError, match="1 of stop given"):
        readings("stop", [1.0], 2)


def test_one_tree() -> None:
    assert issubclass(NotIdentified, TimingError)
    assert issubclass(TimingError, InterlockError)
    assert issubclass(TimingError, ValueError)
