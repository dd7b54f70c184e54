"""Ranges: the ends bound everything between, and the list says which input matters most."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iso13849 import mttfd_from_b10d
from interlock.rating.uncertainty import Range, Sensitivity, sensitivities


def failures_an_hour(values) -> float:
    """A smooth rate that falls with b10d and rises with use (formula F11 of a single channel)."""
    return 1 / (8760 * mttfd_from_b10d(values["b10d"], values["use"]))


def test_ends() -> None:
    assert (Range(1, 2).worse_end, Range(1, 2).better_end) == (1, 2)
    assert (Range(1, 2, "less").worse_end, Range(1, 2, "less").better_end) == (2, 1)


@given(
    st.floats(1e5, 1e6),
    st.floats(1, 3),
    st.floats(1e3, 1e4),
    st.floats(1, 3),
    st.floats(0, 1),
    st.floats(0, 1),
)
def test_every_value_between_lies_between_the_ends(b10d, wider, use, more, at_1, at_2) -> None:
    ranges = {"b10d": Range(b10d, b10d * wider), "use": Range(use, use * more, "less")}
    best = failures_an_hour({name: known.better_end for name, known in ranges.items()})
    worst = failures_an_hour({name: known.worse_end for name, known in ranges.items()})
    inner = {
        name: known.low + at * (known.high - known.low)
        for (name, known), at in zip(ranges.items(), (at_1, at_2), strict=True)
    }
    assert best * (1 - 1e-9) <= failures_an_hour(inner) <= worst * (1 + 1e-9)


def test_the_widest_input_comes_first() -> None:
    ranges = {"b10d": Range(1.0e6, 1.3e6), "use": Range(5000, 8000, "less")}
    found = sensitivities(failures_an_hour, ranges)
    assert [item.name for item in found] == ["use", "b10d"]
    assert found[0].gain == pytest.approx(1.6)
    assert found[1].gain == pytest.approx(1.3)
    assert found[0].result_if_worse == found[1].result_if_worse == pytest.approx(9.132e-8, rel=1e-3)


def test_equal_inputs_are_sorted_by_name() -> None:
    found = sensitivities(lambda v: v["a"] + v["b"], {"b": Range(1, 2, "less"), "a": Range(1, 2, "less")})
    assert [item.name for item in found] == ["a", "b"]


def test_an_exact_input_does_not_matter() -> None:
    (only,) = sensitivities(lambda v: v["a"], {"a": Range(3, 3)})
    assert only.gain == 1


def test_gain_of_refused_results() -> None:
    assert Sensitivity("a", 1, 2, math.inf, math.inf).gain == 1
    assert Sensitivity("a", 1, 2, math.inf, 1e-7).gain == math.inf


@pytest.mark.parametrize(
    ("low", "high"), [(2, 1), (-1, 1), (math.nan, 1), (1, math.inf), (None, 1), ("1", 2)]
)
def test_odd_ranges(low, high) -> None:
    with pytest.raises(RatingError):
        Range(low, high)
