"""When a noisy quantity fell below a level for good: no single sample decides.

Spin-down records hold isolated zero samples long before standstill, and isolated spikes long after. A sample counts
only together with its neighbours, by this statement about the sensor: a good sample is off by at most `bound`, and
of any 2·bad + 1 neighbouring samples at most `bad` are not good. From it follow, for the last instant at which the
quantity was above the level:

- it is not earlier than a sample that is surely above, if `bad` more of the next 2·bad are (one of them is good);
- it is earlier than the sample after the last 2·bad + 1 of which more than `bad` may be above, provided that the
  quantity never rose above the level for fewer than 2·bad + 1 samples (nobody can tell that from bad samples).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from interlock.interval import Interval
from interlock.timing.inputs import TimingError, at_least_zero, finite_number, stamps, whole
from interlock.timing.track import Clock

__all__ = ["EXACT", "Crossing", "Sensor", "last_above"]

_LONG_AGO = -(2**62)
EXACT = Clock(0, 0, 0)
"""A clock whose stamps are the instants of sampling."""


@dataclass(frozen=True, slots=True)
class Sensor:
    """What is stated of a sensor, in the unit of its samples."""

    bound: float  # a good sample is off by at most this much
    bad: int = 1  # of any 2·bad + 1 neighbouring samples at most this many are not good
    hysteresis: float = 0.0  # a sample this near to the level decides nothing, beyond `bound`

    def __post_init__(self) -> None:
        at_least_zero("bound", self.bound, "give the largest error of a good sample")
        at_least_zero("hysteresis", self.hysteresis, "give the dead band about the level")
        whole("bad", self.bad)


@dataclass(frozen=True, slots=True)
class Crossing:
    """When a quantity was above its level for the last time."""

    at: Interval  # lo -2**62: never surely above; hi None: not shown to stay below
    returned: tuple[
        int, ...
    ]  # stamps of samples from which on it surely was above again after surely being below
    apart: tuple[int, ...]  # stamps of samples on the wrong side that did not decide
    was_above: bool  # somewhere in the record it surely was above


def last_above(
    times_ns: ArrayLike, values: ArrayLike, level: float, sensor: Sensor, clock: Clock = EXACT
) -> Crossing:
    """Holds the last instant at which the quantity was above `level`, within the record.

    `times_ns` int[n] never falling, `values` [n], NaN where a sample is no evidence (give the magnitude of a
    quantity with a sign: its errors are no larger). A change that lies wholly between samples, or that is shorter
    than 2·bad + 1 samples, is not seen. For a rise, pass the negative of values and level.
    """
    times, shown = stamps(times_ns), np.asarray(values, dtype=np.float64)
    if shown.shape != times.shape or not len(times):
        raise TimingError(
            f"{len(times)} stamps and values of shape {shown.shape}: give one value a stamp, at least 1"
        )
    margin, edge = sensor.bound + sensor.hysteresis, finite_number("level", level)
    surely, surely_not = shown > edge + margin, shown < edge - margin
    above = _early_in_majority(surely, sensor.bad)
    end = _after_last_doubt(~surely_not, sensor.bad)
    lo = clock.sampled(int(times[above[-1]])).lo if len(above) else _LONG_AGO
    hi = clock.sampled(int(times[end])).hi if end < len(times) else None
    return Crossing(
        Interval(lo, hi),
        _returns(times, above, _early_in_majority(surely_not, sensor.bad)),
        tuple(times[_wrong_side(surely, surely_not, above, end)].tolist()),
        bool(len(above)),
    )


def _early_in_majority(marked: NDArray[np.bool_], bad: int) -> NDArray[np.intp]:
    """Marked samples after which at least `bad` of the next 2·bad are marked as well."""
    counts = np.concatenate([[0], np.cumsum(marked)])
    ahead = np.minimum(np.arange(len(marked)) + 2 * bad + 1, len(marked))
    return np.flatnonzero(marked & (counts[ahead] - counts[:-1] > bad))


def _after_last_doubt(possible: NDArray[np.bool_], bad: int) -> int:
    """Index after the last 2·bad + 1 samples of which more than `bad` are possible; before the record all are."""
    padded = np.concatenate([np.ones(2 * bad, dtype=np.bool_), possible])
    counts = np.concatenate([[0], np.cumsum(padded)])
    doubtful = np.flatnonzero(counts[2 * bad + 1 :] - counts[: len(possible)] > bad)
    return int(doubtful[-1]) + 1 if len(doubtful) else 0


def _returns(times: NDArray[np.int64], above: NDArray[np.intp], below: NDArray[np.intp]) -> tuple[int, ...]:
    """The first sample of each stretch surely above that comes after one surely below."""
    marks = np.concatenate([below, above])
    sides = np.concatenate([np.zeros(len(below), dtype=np.bool_), np.ones(len(above), dtype=np.bool_)])
    order = np.argsort(marks, kind="stable")
    marks, sides = marks[order], sides[order]
    turned = np.flatnonzero(sides[1:] & ~sides[:-1]) + 1
    return tuple(times[marks[turned]].tolist())


def _wrong_side(
    surely: NDArray[np.bool_], surely_not: NDArray[np.bool_], above: NDArray[np.intp], end: int
) -> NDArray[np.intp]:
    """Samples surely below before the last one surely above, and surely above at the end."""
    places = np.arange(len(surely))
    last = int(above[-1]) if len(above) else -1
    return np.flatnonzero((surely_not & (places < last)) | (surely & (places >= end)))
