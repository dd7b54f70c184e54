"""Is a bench getting slower from one proof test to the next? Each latency of the last test against all earlier ones.

An interval stands by its middle, which is off by half its width at most: by so much of the widest one of each side
together the two sides may differ for reasons of measurement alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import Final

from interlock.register.book import Register
from interlock.register.entries import Entry, ProofTest, Timing
from interlock.timing.drift import Drift, drift, judge_drift
from interlock.timing.inputs import NotIdentified
from interlock.verdict import Verdict

__all__ = ["ALLOWED", "Trend", "trends"]

ALLOWED: Final = 0.1
"""Slower by so much of the limit is worth a look, long before the limit is met (common practice, no source)."""
_MS: Final = 1e6


@dataclass(frozen=True, slots=True)
class Trend:
    """One effect of one function on one device: pass, no slower than allowed; fail, slower; else it cannot be said."""

    function: str
    effect: str
    subject: str
    verdict: Verdict
    latest: date
    earlier: tuple[date, ...]  # days of the tests before it
    longest_ms: float | None  # upper bound of the last test; None: it has none
    limit_ms: float | None
    found: Drift | None  # ms; None: too few values, or none that can be compared
    sentence: str


Key = tuple[str, str, str]


def trends(register: Register, bench_id: str, *, allowed: float = ALLOWED) -> Iterator[Trend]:
    """A trend for everything that the last test of each function measured; `allowed`: as a share of the limit.

    Only tests count whose recording was sound, and of the earlier ones only latencies that passed: a defect of then
    must not make the bench of now look quick.
    """
    series: dict[Key, list[tuple[date, Sequence[Timing]]]] = {}
    for entry in _in_order(register, bench_id):
        for key, timings in _timings(entry).items():
            assert isinstance(entry.content, ProofTest)  # noqa: S101 - `_in_order` gives no other
            series.setdefault(key, []).append((entry.content.date, timings))
    for key, tests in series.items():
        yield _trend(key, tests, allowed)


def _in_order(register: Register, bench_id: str) -> list[Entry]:
    tests = [one for one in register.counting(bench_id) if isinstance(one.content, ProofTest)]
    sound = [one for one in tests if getattr(one.content, "rest", None) is Verdict.PASS]
    return sorted(sound, key=lambda one: (getattr(one.content, "date", date.min), one.entry))


def _timings(entry: Entry) -> dict[Key, list[Timing]]:
    found: dict[Key, list[Timing]] = {}
    if isinstance(entry.content, ProofTest):
        for name, function in entry.content.functions.items():
            for one in function.timings:
                found.setdefault((name, one.effect, one.subject), []).append(one)
    return found


def _trend(key: Key, tests: Sequence[tuple[date, Sequence[Timing]]], allowed: float) -> Trend:
    day, last = tests[-1]
    before = [one for _, timings in tests[:-1] for one in timings if one.verdict is Verdict.PASS]
    longest, limit = _longest(last), _limit(last)

    def said(verdict: Verdict, text: str, found: Drift | None = None) -> Trend:
        days = tuple(when for when, _ in tests[:-1])
        return Trend(*key, verdict, day, days, longest, limit, found, f"{text}.")

    if limit is None or longest is None or _longest(before) is None:
        return said(
            Verdict.INCONCLUSIVE, "a latency without upper bound, or without limit, cannot be compared"
        )
    if min(len(before), len(last)) < 2:
        return said(
            Verdict.INCONCLUSIVE, f"{len(before)} earlier and {len(last)} new value(s): 2 of each are needed"
        )
    try:
        found = drift(map(_middle, before), map(_middle, last), steady=(_width(before) + _width(last)) / 2)
    except NotIdentified as error:
        return said(Verdict.INCONCLUSIVE, str(error))
    verdict = judge_drift(found, allowed * limit)
    size = f"{found.difference:+.3g} ms, between {found.least:+.3g} and {found.largest:+.3g} ms"
    rule = f"{allowed * limit:.3g} ms ({100 * allowed:g} % of the limit)"
    match verdict:
        case Verdict.PASS:
            text = f"that it became slower by more than {rule} is excluded: {size}"
        case Verdict.FAIL:
            text = f"it became slower by more than {rule}: {size}; look for the cause"
        case _:
            text = f"that it became slower by more than {rule} is neither shown nor excluded: {size}"
    return said(verdict, text, found)


def _middle(one: Timing) -> float:
    assert one.latency_ns is not None  # noqa: S101 - `_longest` has looked
    lo, hi = one.latency_ns
    assert hi is not None  # noqa: S101
    return (lo + hi) / 2 / _MS


def _width(timings: Sequence[Timing]) -> float:
    ends = [one.latency_ns for one in timings if one.latency_ns is not None]
    return max(hi - lo for lo, hi in ends if hi is not None) / _MS


def _longest(timings: Sequence[Timing]) -> float | None:
    """The largest upper bound in ms; None if one of them has none. Of nothing: 0."""
    ends = [None if one.latency_ns is None else one.latency_ns[1] for one in timings]
    known = [float("inf") if end is None else end / _MS for end in ends]
    most = max(known, default=0.0)
    return most if isfinite(most) else None


def _limit(timings: Sequence[Timing]) -> float | None:
    limits = [one.limit_ns for one in timings if one.limit_ns is not None]
    return min(limits) / _MS if limits else None
