"""Verdicts, effects, times and lengths of time in words; bounds are rounded outwards, limits never."""

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Final

from interlock.interval import Interval
from interlock.verdict import Verdict

__all__ = ["MEANING", "SHORT", "bounds", "effect_words", "exact", "instant", "pair"]

SHORT: Final = {
    Verdict.PASS: "pass",
    Verdict.FAIL: "FAIL",
    Verdict.INCONCLUSIVE: "inconclusive",
    Verdict.NOT_OBSERVED: "not observed",
}

MEANING: Final = {
    Verdict.PASS: "the evidence excludes a violation",
    Verdict.FAIL: "the evidence shows a violation",
    Verdict.INCONCLUSIVE: "the data do not decide; this is not a pass",
    Verdict.NOT_OBSERVED: "never exercised, so nothing is known; this is not a pass",
}

_UNITS: Final = {"ms": 10**6, "s": 10**9}
_PLACES: Final = {"ms": (1, 3, 6), "s": (3, 6, 9)}  # the last one is exact


def effect_words(effect: str) -> str:
    """An effect's id as words."""
    return effect.replace("_", " ")


def _unit(size_ns: int) -> str:
    return "ms" if abs(size_ns) < 10**9 else "s"


def _rounded(value_ns: int, unit: str, places: int, rounding: str) -> str:
    step = Decimal(1).scaleb(-places)
    value = (Decimal(value_ns) / _UNITS[unit]).quantize(step, rounding=rounding)
    return f"{value + 0:.{places}f}"


def exact(value_ns: int, unit: str | None = None) -> str:
    """A length of time without rounding, such as a limit: "100 ms", "2.5 s"."""
    unit = unit or _unit(value_ns)
    return f"{(Decimal(value_ns) / _UNITS[unit]).normalize():f} {unit}"


def pair(span: Interval, unit: str, limit_ns: int | None = None) -> tuple[str, str | None]:
    """Both ends in `unit`, rounded outwards, with as many places as keep them on their side of the limit."""
    for places in _PLACES[unit]:
        low = _rounded(span.lo, unit, places, ROUND_FLOOR)
        high = None if span.hi is None else _rounded(span.hi, unit, places, ROUND_CEILING)
        if limit_ns is None or _sides_kept(span, low, high, Decimal(limit_ns) / _UNITS[unit], limit_ns):
            break
    return low, high


def _sides_kept(span: Interval, low: str, high: str | None, limit: Decimal, limit_ns: int) -> bool:
    if (span.lo > limit_ns) != (Decimal(low) > limit):
        return False
    return span.hi is None or high is None or (span.hi <= limit_ns) == (Decimal(high) <= limit)


def bounds(span: Interval | None, limit_ns: int | None = None) -> str:
    """An interval of time in words; "or more" where no upper bound is known."""
    if span is None:
        return "not timed"
    size = limit_ns if limit_ns is not None else (span.hi if span.hi is not None else span.lo)
    unit = _unit(size)
    low, high = pair(span, unit, limit_ns)
    return f"{low} {unit} or more" if high is None else f"{low} to {high} {unit}"


def instant(span: Interval | None) -> str:
    """When something happened, in seconds since the first frame, rounded outwards."""
    if span is None:
        return "not of one demand"
    low, high = (
        _rounded(span.lo, "s", 4, ROUND_FLOOR),
        None if span.hi is None else _rounded(span.hi, "s", 4, ROUND_CEILING),
    )
    return f"{low} s or later" if high is None else f"{low} to {high} s"
