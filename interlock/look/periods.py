"""How often do frames of a message come, and what was the longest time without one?"""

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.look.seen import Periods

__all__ = ["longest_gap", "periods"]

Stamps = NDArray[np.int64]


def periods(times_ns: Stamps) -> Periods | None:
    """Median, least and most of the times between neighbours; None if there are fewer than two stamps.

    `times_ns` [n] ascends; an even number of times has its lower middle one as median, so it is one that occurred.
    """
    if len(times_ns) < 2:
        return None
    steps = np.diff(times_ns)
    least, most, middle = int(steps.min()), int(steps.max()), (len(steps) - 1) // 2
    steps.partition(middle)
    return Periods(int(steps[middle]), least, most)


def longest_gap(times_ns: Stamps, end_ns: int) -> Interval:
    """The longest stretch without a stamp from 0 to `end_ns`, both ends included; of equals the first."""
    first, last = int(times_ns[0]), int(times_ns[-1])
    gaps = [Interval(0, first), Interval(last, max(end_ns, last))]
    if len(times_ns) > 1:
        at = int(np.diff(times_ns).argmax())
        gaps.insert(1, Interval(int(times_ns[at]), int(times_ns[at + 1])))
    return max(gaps, key=lambda gap: (gap.hi or 0) - gap.lo)
