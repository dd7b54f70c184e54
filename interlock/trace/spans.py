"""The stretch of time over which bad samples leave a value unknown: from the good one before to the good one after."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval

__all__ = ["MOST", "Run", "runs", "runs_of_equal"]

MOST: Final = 400
"""More runs than this are told as one that covers them all: nobody reads more."""


@dataclass(frozen=True, slots=True)
class Run:
    """Neighbouring samples from index `first` to `last`, both included; `count` of them are bad."""

    first: int
    last: int
    count: int
    span: Interval


def runs(bad: NDArray[np.bool_], times_ns: NDArray[np.int64]) -> Iterator[Run]:
    """Each run of bad samples with its span; `times_ns` ascends and begins at 0 or later."""
    starts, stops = _edges(bad)
    if len(starts) > MOST:
        starts, stops = starts[:1], stops[-1:]
    for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
        lo = int(times_ns[start - 1]) if start else 0
        hi = int(times_ns[stop]) if stop < len(bad) else None
        yield Run(start, stop - 1, int(bad[start:stop].sum()), Interval(lo, hi))


def runs_of_equal(same_as_before: NDArray[np.bool_], most: int, times_ns: NDArray[np.int64]) -> Iterator[Run]:
    """Each run of more than `most` equal samples; its span begins at the run's first sample."""
    starts, stops = _edges(same_as_before)
    long = stops - starts + 1 > most  # the sample before the first repetition belongs to the run
    starts, stops = starts[long] - 1, stops[long]
    if len(starts) > MOST:
        starts, stops = starts[:1], stops[-1:]
    for start, stop in zip(starts.tolist(), stops.tolist(), strict=True):
        hi = int(times_ns[stop]) if stop < len(times_ns) else None
        yield Run(start, stop - 1, stop - start, Interval(int(times_ns[start]), hi))


def _edges(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Beginning and end (excluded) of each run of true values."""
    steps = np.diff(np.concatenate(([False], mask, [False])).astype(np.int8))
    return np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
