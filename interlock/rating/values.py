"""A number is used only if it is finite and inside its physical range; else one error says what is needed."""

import math
from collections.abc import Iterable
from fractions import Fraction
from numbers import Real
from typing import Final, TypeVar

from interlock.errors import RatingError

__all__ = [
    "HOURS_PER_YEAR",
    "as_written",
    "at_least_zero",
    "choice",
    "filled",
    "needed",
    "positive",
    "share",
    "whole",
]

T = TypeVar("T")

HOURS_PER_YEAR: Final = 8760.0
"""The year of the tables of ISO 13849-1 (365 d; with 365.25 d results shift by 0.07 %)."""


def _number(what: str, value: object, need: str) -> float:
    if isinstance(value, bool) or not isinstance(value, Real):
        raise RatingError(f"{what} is {value!r}, not a number: {need}")
    number = float(value)
    if not math.isfinite(number):
        raise RatingError(f"{what} is {number!r}: {need}")
    return number


def positive(what: str, value: object, need: str, *, at_most: float = math.inf) -> float:
    """The value as a finite float above zero and not above `at_most`; else RatingError with `need`."""
    number = _number(what, value, need)
    if not 0 < number <= at_most:
        raise RatingError(f"{what} is {number!r}: {need}")
    return number


def at_least_zero(what: str, value: object, need: str) -> float:
    """The value as a finite float that is not negative; else RatingError with `need`."""
    number = _number(what, value, need)
    if number < 0:
        raise RatingError(f"{what} is {number!r}: {need}")
    return number


def share(what: str, value: object, need: str, *, one_allowed: bool = False) -> float:
    """The value as a fraction from 0 up to, but without, 1 (with 1 if `one_allowed`); else RatingError."""
    number = at_least_zero(what, value, need)
    if number > 1 or (number == 1 and not one_allowed):
        raise RatingError(f"{what} is {number!r}: {need}")
    return number


def whole(what: str, value: object, need: str, *, at_least: int) -> int:
    """The value as an integer of at least `at_least`; else RatingError with `need`."""
    number = _number(what, value, need)
    if number != int(number) or number < at_least:
        raise RatingError(f"{what} is {value!r}: {need}")
    return int(number)


def choice(what: str, value: object, allowed: Iterable[str]) -> str:
    """The value if it is one of the words allowed; else RatingError that lists them."""
    words = tuple(allowed)
    if not isinstance(value, str) or value not in words:
        raise RatingError(f"{what} is {value!r}: give one of {', '.join(words)}")
    return str(value)


def needed(what: str, value: T | None) -> T:
    """The value, or RatingError if it is missing."""
    if value is None:
        raise RatingError(f"{what} is missing: nothing is computed without it")
    return value


def filled(what: str, items: Iterable[T], need: str) -> tuple[T, ...]:
    """The items as a tuple of at least one; else RatingError with `need`."""
    try:
        found = tuple(items)
    except TypeError:
        raise RatingError(f"{what} is {items!r}, not a list: {need}") from None
    if not found:
        raise RatingError(f"{what} is empty: {need}")
    return found


def as_written(value: float) -> Fraction:
    """The exact value of the shortest decimal that reads back as `value`: 0.1 is one tenth.

    Sums and ratios of such values do not stray over the border of a class by binary rounding.
    """
    return Fraction(repr(float(value)))
