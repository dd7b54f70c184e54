"""Which values did a signal take, how long did it stand still, and when did it change?"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.look.seen import Edge, SignalSeen, Still
from interlock.trace.model import Samples

__all__ = ["MOST_EDGES", "summary"]

MOST_EDGES: Final = 400
"""With more changes than this the first ones are listed."""


def summary(samples: Samples, bits: int | None) -> SignalSeen:
    """The signal in figures; samples that are no finite number count for `still` and not for least, most, distinct."""
    values, times = samples.values, samples.times_ns
    finite = values[np.isfinite(values)]
    distinct = _distinct(finite)
    return SignalSeen(
        message=samples.message,
        name=samples.signal,
        unit=samples.unit,
        bits=bits,
        count=len(values),
        least=float(finite.min()) if len(finite) else None,
        most=float(finite.max()) if len(finite) else None,
        distinct=distinct,
        still=_still(times, values),
        edges=_edges(times, values) if distinct <= 2 and len(finite) == len(values) else None,
    )


def _distinct(values: NDArray[np.float64]) -> int:
    if not len(values):
        return 0
    ordered = np.sort(values)
    return 1 + int(np.count_nonzero(ordered[1:] != ordered[:-1]))


def _still(times: NDArray[np.int64], values: NDArray[np.float64]) -> Still | None:
    if not len(values):
        return None
    before, after = values[:-1], values[1:]
    changed = np.flatnonzero((before != after) & ~(np.isnan(before) & np.isnan(after)))
    first = np.concatenate(([0], changed + 1))
    last = np.concatenate((changed, [len(values) - 1]))
    at = int((times[last] - times[first]).argmax())
    lo, hi = int(first[at]), int(last[at])
    return Still(hi - lo + 1, Interval(int(times[lo]), int(times[hi])), float(values[lo]))


def _edges(times: NDArray[np.int64], values: NDArray[np.float64]) -> tuple[Edge, ...]:
    changed = np.flatnonzero(values[1:] != values[:-1])[:MOST_EDGES].tolist()
    return tuple(Edge(Interval(int(times[at]), int(times[at + 1])), float(values[at + 1])) for at in changed)
