"""Numbers outside their physical range never get into a computation."""

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import InterlockError, RatingError
from interlock.rating.values import (
    as_written,
    at_least_zero,
    choice,
    filled,
    needed,
    positive,
    share,
    whole,
)

NOT_NUMBERS = [math.nan, math.inf, -math.inf, "7", None, True, False, [1.0], 1 + 2j]


@pytest.mark.parametrize("value", NOT_NUMBERS)
@pytest.mark.parametrize("check", [positive, at_least_zero, share])
def test_what_is_not_a_finite_number_is_refused(check, value) -> None:
    with pytest.raises(RatingError, match=r"B10d is .*: look it up"):
        check("B10d", value, "look it up")


@pytest.mark.parametrize("value", [0, 0.0, -0.0, -1, -1e-300])
def test_zero_and_less_are_not_positive(value) -> None:
    with pytest.raises(RatingError, match="look it up"):
        positive("B10d", value, "look it up")


def test_upper_limit_of_a_positive_number_is_included() -> None:
    assert positive("hours", 24, "at most 24", at_most=24) == 24.0
    with pytest.raises(RatingError, match="at most 24"):
        positive("hours", 24.000001, "at most 24", at_most=24)


@pytest.mark.parametrize("value", [3, 3.0, np.float64(3), np.float32(3), np.int64(3), Fraction(3)])
def test_any_real_number_type_is_read(value) -> None:
    assert positive("years", value, "years") == 3.0
    assert isinstance(positive("years", value, "years"), float)


def test_a_share_of_one_only_where_it_is_allowed() -> None:
    assert share("dc", 0, "x") == 0
    assert share("beta", 1, "x", one_allowed=True) == 1
    with pytest.raises(RatingError):
        share("dc", 1, "x")
    with pytest.raises(RatingError):
        share("beta", 1.01, "x", one_allowed=True)


@pytest.mark.parametrize("value", [1.5, -1, math.nan, "2", None, True])
def test_only_whole_numbers_are_counts(value) -> None:
    with pytest.raises(RatingError):
        whole("count", value, "a count", at_least=0)


def test_counts_from_the_least_on() -> None:
    assert whole("count", 2.0, "a count", at_least=2) == 2
    with pytest.raises(RatingError):
        whole("count", 1, "a count", at_least=2)


def test_a_word_outside_the_list_is_refused_with_the_list() -> None:
    assert choice("pl", "d", "abcde") == "d"
    with pytest.raises(RatingError, match="pl is 'f': give one of a, b, c, d, e"):
        choice("pl", "f", "abcde")
    with pytest.raises(RatingError):
        choice("pl", 3, "abcde")


def test_lists_are_lists_of_something() -> None:
    assert filled("parts", iter([1, 2]), "x") == (1, 2)
    with pytest.raises(RatingError, match="empty"):
        filled("parts", [], "at least one")
    with pytest.raises(RatingError, match="not a list"):
        filled("parts", 5, "at least one")


def test_missing_is_an_error_and_nothing_else_is() -> None:
    assert needed("x", 0.0) == 0.0
    with pytest.raises(RatingError, match="x is missing"):
        needed("x", None)


def test_rating_errors_are_one_kind_of_error() -> None:
    assert issubclass(RatingError, InterlockError)


@given(st.floats(min_value=1e-300, max_value=1e300))
def test_the_written_value_reads_back_as_the_same_number(value: float) -> None:
    assert float(as_written(value)) == value


def test_the_written_value_is_the_decimal() -> None:
    assert as_written(0.1) == Fraction(1, 10)
    assert as_written(np.float64(2e-8)) == Fraction(2, 10**8)
    assert as_written(7) == 7
