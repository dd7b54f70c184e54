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
    middle = (len(steps) - 1) // 2
    return Periods(int(np.partition(steps, middle)[middle]), int(steps.min()), int(steps.max()))


def longest_gap(times_ns: Stamps, end_ns: int) -> Interval:
    """The longest stretch without a stamp from 0 to `end_ns`, both ends included; of equals the first."""
    marks = np.concatenate(([0], times_ns, [max(end_ns, int(times_ns[-1]))]))
    at = int(np.diff(marks).argmax())
    return Interval(int(marks[at]), int(marks[at + 1]))
