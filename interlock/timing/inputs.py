"""A record or a figure is used only if it is whole; else one error says which one and what is needed."""

import math
from collections.abc import Iterable
from numbers import Integral, Real

import numpy as np
from numpy.typing import ArrayLike, NDArray

from interlock.errors import InterlockError

__all__ = [
    "NotIdentified",
    "TimingError",
    "at_least_zero",
    "finite_number",
    "fraction",
    "positive",
    "readings",
    "record",
    "stamps",
    "whole",
]


class TimingError(InterlockError, ValueError):
    """A record or figure from which no time may be told; says which, and what is needed."""


class NotIdentified(TimingError):
    """Whole data that do not determine what was asked: the answer is inconclusive, for this reason."""


def finite_number(what: str, value: object, need: str = "give a finite number") -> float:
    """The value as a finite float; else TimingError with `need`."""
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(float(value)):
        raise TimingError(f"{what} is {value!r}: {need}")
    return float(value)


def positive(what: str, value: object, need: str = "give a number above 0") -> float:
    """The value as a finite float above zero; else TimingError with `need`."""
    number = finite_number(what, value, need)
    if number <= 0:
        raise TimingError(f"{what} is {value!r}: {need}")
    return number


def at_least_zero(what: str, value: object, need: str = "give a number, 0 or more") -> float:
    """The value as a finite float that is not negative; else TimingError with `need`."""
    number = finite_number(what, value, need)
    if number < 0:
        raise TimingError(f"{what} is {value!r}: {need}")
    return number


def fraction(what: str, value: object) -> float:
    """The value as a float above 0 and below 1; else TimingError."""
    number = finite_number(what, value, "give a fraction above 0 and below 1 (95 % is 0.95)")
    if not 0 < number < 1:
        raise TimingError(f"{what} is {value!r}: give a fraction above 0 and below 1 (95 % is 0.95)")
    return number


def whole(what: str, value: object, least: int = 0) -> int:
    """The value as an integer of at least `least`; else TimingError."""
    if isinstance(value, bool) or not isinstance(value, Integral) or int(value) < least:
        raise TimingError(f"{what} is {value!r}: give a whole number, {least} or more")
    return int(value)


def stamps(times_ns: ArrayLike) -> NDArray[np.int64]:
    """Stamps as int64[n], never falling; else TimingError. Floats are refused: they lose nanoseconds."""
    times = np.asarray(times_ns)
    if times.ndim != 1 or not (times.size == 0 or np.issubdtype(times.dtype, np.integer)):
        raise TimingError(
            f"stamps are {times.dtype} of shape {times.shape}: give one row of integer nanoseconds"
        )
    found = times.astype(np.int64)
    if np.any(found[1:] < found[:-1]):
        at = int(np.flatnonzero(found[1:] < found[:-1])[0]) + 1
        raise TimingError(
            f"stamp {at} lies before the one above it: split the record where its time steps back"
        )
    return found


def record(times_ns: ArrayLike, values: ArrayLike) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Stamps and finite values of equal length, [n] each; else TimingError."""
    times, found = stamps(times_ns), np.asarray(values, dtype=np.float64)
    if found.shape != times.shape:
        raise TimingError(f"{times.size} stamps but values of shape {found.shape}: give one value a stamp")
    if not np.isfinite(found).all():
        at = int(np.flatnonzero(~np.isfinite(found))[0])
        raise TimingError(f"value {at} is {found[at]}: leave out samples that are no evidence, and say so")
    return times, found


def readings(what: str, values: Iterable[float], least: int) -> NDArray[np.float64]:
    """At least `least` finite numbers, as float64[n]; else TimingError that names the odd one by its place."""
    found = [finite_number(f"{what} {place}", value) for place, value in enumerate(values, 1)]
    if len(found) < least:
        raise TimingError(f"{len(found)} of {what} given: at least {least} needed")
    return np.asarray(found, dtype=np.float64)
