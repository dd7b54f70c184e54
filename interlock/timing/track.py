"""A condition followed through a log: at each sample it held, did not hold, or nobody can tell."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.observe import Comparison, Condition
from interlock.bench.source_models import StampDelay
from interlock.interval import Interval
from interlock.trace.model import Quality, Samples

__all__ = [
    "BLIND",
    "NO",
    "UNKNOWN",
    "YES",
    "Clock",
    "Track",
    "combine",
    "compare",
    "condition_states",
    "follow",
    "invert",
]

YES: Final = 1
NO: Final = 0
UNKNOWN: Final = -1  # the value is too near to the bound to tell
BLIND: Final = -2  # there is no evidence: frames missing, stale, frozen, unreadable or out of order

States = NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Clock:
    """How a stamp relates to the instant at which the content was sampled."""

    least_ns: int  # shortest delay from sampling to stamp
    most_ns: int  # longest delay
    width_ns: int  # a stamp is only known to plus or minus this much

    @classmethod
    def of(cls, delay: StampDelay, width_ns: int) -> "Clock":
        """The clock that a bench description states, for stamps of the given width."""
        return cls(delay.least, delay.most, width_ns)

    def sampled(self, stamp_ns: int) -> Interval:
        """Holds the instant at which the content of a frame with this stamp was sampled."""
        return Interval(stamp_ns - self.most_ns - self.width_ns, stamp_ns - self.least_ns + self.width_ns)


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A condition at each sample of one message; each span without evidence holds a BLIND sample."""

    name: str
    message: str
    stamps_ns: NDArray[np.int64]  # [n], never falling
    states: States  # [n], YES, NO, UNKNOWN or BLIND
    clock: Clock
    memo: dict[str, Any] = field(default_factory=dict, repr=False)  # what was worked out from it once

    def interval(self, before: int | None, at: int | None) -> Interval:
        """Holds each instant between the contents of sample `before` and sample `at` (None: unbounded)."""
        lo = -(2**62) if before is None else self.clock.sampled(int(self.stamps_ns[before])).lo
        hi = None if at is None else self.clock.sampled(int(self.stamps_ns[at])).hi
        return Interval(lo, hi)


def compare(comparison: Comparison, values: NDArray[np.float64], uncertain: float) -> States:
    """Whether each value meets the comparison, UNKNOWN where its uncertainty leaves it open; [n] of int8."""
    shown = np.abs(values) if comparison.magnitude else values
    bound = comparison.value
    if uncertain == 0.0:
        exact = np.where(np.abs(shown - bound) <= _tie(bound), bound, shown)
        states = _HOLDS[comparison.operator](exact, bound).astype(np.int8)
    else:
        states = _uncertain_states(comparison.operator, shown, bound, uncertain)
    states[np.isnan(values)] = UNKNOWN
    return states


def _tie(bound: float) -> float:
    """Values so near to a bound are at it: scale times raw value plus offset is not exact."""
    return 1e-9 * max(1.0, abs(bound))


_HOLDS: Final[Mapping[str, Callable[[NDArray[np.float64], float], NDArray[np.bool_]]]] = {
    "is": np.equal,
    "<": np.less,
    "<=": np.less_equal,
    ">": np.greater,
    ">=": np.greater_equal,
}


def _uncertain_states(operator: str, shown: NDArray[np.float64], bound: float, uncertain: float) -> States:
    """YES or NO where the whole range of each value tells the same, else UNKNOWN."""
    tie = _tie(bound)
    low, high = shown - uncertain - tie, shown + uncertain + tie
    if operator == "is":
        return np.where((low <= bound) & (bound <= high), UNKNOWN, NO).astype(np.int8)
    first, second = _HOLDS[operator](low, bound), _HOLDS[operator](high, bound)
    return np.where(first == second, first, UNKNOWN).astype(np.int8)


def combine(parts: Iterable[States], *, every: bool) -> States:
    """Three-valued AND (`every`) or OR of states of equal length."""
    listed = list(parts)
    if len(listed) == 1:
        return np.maximum(listed[0], UNKNOWN)
    stacked = np.stack(listed)
    decisive, other = (NO, YES) if every else (YES, NO)
    some = (stacked == decisive).any(axis=0)
    open_ = (stacked < NO).any(axis=0)
    return np.where(some, decisive, np.where(open_, UNKNOWN, other)).astype(np.int8)


def invert(states: States) -> States:
    """Three-valued NOT."""
    return np.where(states < NO, UNKNOWN, 1 - states).astype(np.int8)


def condition_states(
    condition: Condition, samples: Mapping[str, Samples], uncertain: Mapping[str, float]
) -> States:
    """Whether the condition held at each sample; `samples` and `uncertain` are keyed by signal name.

    Precondition: all comparisons are on one message.
    """
    parts = [
        _compared(one, samples[one.name.signal], uncertain.get(one.name.signal, 0.0))
        for one in condition.comparisons
    ]
    return combine(parts, every=condition.every)


def _compared(comparison: Comparison, samples: Samples, uncertain: float) -> States:
    """Whether each sample meets the comparison; UNKNOWN if it names a value that the log's description does not."""
    if not comparison.label:
        return compare(comparison, samples.values, uncertain)
    meant = [value for value, label in samples.labels.items() if label == comparison.label]
    if len(meant) != 1:
        return np.full(len(samples.values), UNKNOWN, np.int8)
    return compare(replace(comparison, value=float(meant[0]), label=""), samples.values, uncertain)


def follow(
    name: str, samples: Iterable[Samples], states: States, quality: Iterable[Quality], clock: Clock
) -> Track:
    """A track of `states`, made from `samples` of one message, and BLIND wherever the log is in doubt."""
    used = list(samples)
    message, signals = used[0].message, {one.signal for one in used}
    doubts = [
        doubt
        for doubt in quality
        if doubt.blinds
        and doubt.message in {None, message}
        and (doubt.signal is None or doubt.signal in signals)
    ]
    stamps, marked = _blinded(used[0].times_ns, states, doubts)
    return Track(name, message, stamps, marked, clock)


def _blinded(
    stamps: NDArray[np.int64], states: States, doubts: list[Quality]
) -> tuple[NDArray[np.int64], States]:
    """Samples in doubt become BLIND, and each span in doubt holds at least one BLIND sample."""
    marked, added = states.copy(), []
    for doubt in doubts:
        lo, hi = doubt.span.lo, doubt.span.hi
        closed = doubt.signal is not None  # the doubt is about the samples at the ends as well
        after = np.searchsorted(stamps, lo, side="left" if closed else "right")
        before = (
            len(stamps) if hi is None else np.searchsorted(stamps, hi, side="right" if closed else "left")
        )
        marked[after:before] = BLIND
        if before <= after:
            added.append(lo if hi is None else lo + (hi - lo) // 2)
    if not added:
        return stamps, marked
    added.sort()
    places = np.searchsorted(stamps, np.array(added, dtype=np.int64), side="right")
    return np.insert(stamps, places, np.array(added, dtype=np.int64)), np.insert(marked, places, BLIND)
