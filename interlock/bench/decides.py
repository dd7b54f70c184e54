"""Whether a comparison of a signal can be true for some values that the signal takes, and false for others."""

import math
from collections.abc import Iterator
from typing import Any

from interlock.bench.observe import Comparison
from interlock.bench.refusal import advise, quoted
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_decides", "check_label"]


def check_label(at: Path, comparison: Comparison, signal: Any) -> Iterator[Mistake]:
    """A name of a value that the signal does not have, or has for several values."""
    names = [str(name) for name in (getattr(signal, "choices", None) or {}).values()]
    what = f"value {quoted(comparison.label)}"
    if comparison.label not in names:
        why = "the signal has no value of this name" if names else "the signal's values have no names"
        instead = advise(comparison.label, names) if names else "write a number"
        yield Mistake(at, what, why, instead, word=comparison.label)
    elif names.count(comparison.label) > 1:
        why = "several values of the signal have this name"
        yield Mistake(at, what, why, "write numbers", word=comparison.label)


def check_decides(at: Path, comparison: Comparison, signal: Any) -> Iterator[Mistake]:
    """A comparison that is true, or false, for every value that the cantools signal can have."""
    if signal.is_float:
        return
    ends = _ends(signal, magnitude=comparison.magnitude)
    answers = {_holds(comparison, end) for end in ends}
    if comparison.operator == "is":
        answers = {True, False} if _takes(signal, comparison) else {False}
    if len(answers) == 1:
        value = f"{comparison.value:g}"
        said = "always" if True in answers else "never"
        why = f"the signal goes from {ends[0]:g} to {ends[1]:g}, so this is {said} so"
        if comparison.operator == "is" and ends[0] <= comparison.value <= ends[1]:
            why = f"the signal, in steps of {signal.scale:g}, is never exactly so"
        instead = (
            "write a value that it takes"
            if comparison.operator == "is"
            else "write a bound that it can cross"
        )
        what = f"'{comparison.operator} {value}'"
        yield Mistake(at, what, why, instead, word=value)


def _holds(comparison: Comparison, value: float) -> bool:
    """Whether the value (its magnitude already taken) meets the comparison."""
    match comparison.operator:
        case "is":
            return value == comparison.value
        case "<":
            return value < comparison.value
        case "<=":
            return value <= comparison.value
        case ">":
            return value > comparison.value
        case ">=":
            return value >= comparison.value


def _raw(signal: Any) -> tuple[int, int]:
    most: int = 2 ** (signal.length - signal.is_signed) - 1
    return (-most - 1 if signal.is_signed else 0), most


def _ends(signal: Any, *, magnitude: bool) -> tuple[float, float]:
    if codes := _codes(signal):
        return min(codes), max(codes)
    lo, hi = sorted(float(raw * signal.scale + signal.offset) for raw in _raw(signal))
    if not magnitude:
        return lo, hi
    return (0.0 if lo <= 0 <= hi else min(abs(lo), abs(hi))), max(abs(lo), abs(hi))


def _codes(signal: Any) -> list[float]:
    """The values of a signal whose bits stand for values of their own."""
    return [code for code in getattr(signal, "codes", ()) if not math.isnan(code)]


def _takes(signal: Any, comparison: Comparison) -> bool:
    if codes := _codes(signal):
        return comparison.value in codes
    if comparison.magnitude and comparison.value < 0:
        return False
    lo, hi = _raw(signal)
    for value in {comparison.value, -comparison.value if comparison.magnitude else comparison.value}:
        raw = round((value - signal.offset) / signal.scale) if signal.scale else 0
        if lo <= raw <= hi and float(raw * signal.scale + signal.offset) == value:
            return True
    return False
