"""Which values did a signal take, how long did it stand still, and when did it change?"""

from collections.abc import Iterator
from itertools import chain, islice
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.look.seen import Edge, SignalSeen, Still
from interlock.trace.model import Samples

__all__ = ["MOST_EDGES", "PIECE", "summary"]

MOST_EDGES: Final = 400
"""With more changes than this the first ones are listed."""
PIECE: Final = 1 << 16
"""Samples that are looked at together: figures of a long record shall need no memory beside it."""

Stamps = NDArray[np.int64]
Values = NDArray[np.float64]


def summary(samples: Samples, bits: int | None) -> SignalSeen:
    """The signal in figures; samples that are no finite number count for `still` and not for least, most, distinct."""
    values, times = samples.values, samples.times_ns
    sound = np.isfinite(values)
    finite = values if sound.all() else values[sound]
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


def _distinct(values: Values) -> int:
    """How many different values; of many all are sorted."""
    found = values[:0]
    for at in range(0, len(values), PIECE):
        found = np.union1d(found, values[at : at + PIECE])
        if len(found) > PIECE:
            ordered = np.sort(values)
            return 1 + int(np.count_nonzero(ordered[1:] != ordered[:-1]))
    return len(found)


def _changes(values: Values) -> Iterator[Stamps]:
    """Piece by piece the samples after which another value comes; one that is no number equals the next such one."""
    for at in range(0, len(values) - 1, PIECE):
        piece = values[at : at + PIECE + 1]
        before, after = piece[:-1], piece[1:]
        yield at + np.flatnonzero((before != after) & ~(np.isnan(before) & np.isnan(after)))


def _still(times: Stamps, values: Values) -> Still | None:
    """The longest stretch of one value; of equally long ones the first."""
    if not len(values):
        return None
    first, lo, hi = 0, 0, -1
    for changed in chain(_changes(values), [np.array([len(values) - 1])]):
        firsts = np.concatenate(([first], changed + 1))
        spans = times[changed] - times[firsts[:-1]]
        at = int(spans.argmax()) if len(spans) else 0
        if len(spans) and (hi < 0 or spans[at] > times[hi] - times[lo]):
            lo, hi = int(firsts[at]), int(changed[at])
        first = int(firsts[-1])
    return Still(hi - lo + 1, Interval(int(times[lo]), int(times[hi])), float(values[lo]))


def _edges(times: Stamps, values: Values) -> tuple[Edge, ...]:
    changed = (int(at) for piece in _changes(values) for at in piece[:MOST_EDGES])
    return tuple(
        Edge(Interval(int(times[at]), int(times[at + 1])), float(values[at + 1]))
        for at in islice(changed, MOST_EDGES)
    )
