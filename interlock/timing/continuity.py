"""At which steps does a quantity that has inertia leap, further than it goes in that time anywhere else in its record?

Its own course tells how fast it can go: nothing is believed of the bench beyond that. Steps may be told apart by what
acts on the quantity, since a shaft that coasts changes its speed more slowly than one that is driven.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["Leap", "leaps"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# Common practice, no source; measured on cut logs and whole ones.
_FASTER: Final = 3.0  # a leap is so many times as fast as every other step
_SEEN: Final = (
    0.75  # share of its height by which the quantity must have gone the same way elsewhere, step by step
)
_FEWEST: Final = 50  # other steps of the same kind; fewer tell nothing
_TOGETHER: Final = 3  # leaps in one record; more are the way of its sensor
_BACK_NS: Final = 1_000_000_000  # what returns so soon was a sensor that failed for a moment
_BACK: Final = 0.5  # share of its height that the way back has at least: meanwhile the quantity went on
_BACK_ALONE: Final = 0.1  # or, where no step like it is near, which a start would have
_ALONE: Final = 2.0  # times as far as any other step back that is near
_SHOWN_FROM: Final = 0.1  # share of its range below which a sensor may show nothing
_REST: Final = 0.1  # share of the leap's height up to which a value is nothing


@dataclass(frozen=True, slots=True)
class Leap:
    """From sample `at` to the next one the quantity went by `by`, `times` as fast as anywhere else."""

    at: int
    by: float
    times: float


def leaps(
    times_ns: Ints,
    values: Floats,
    period_ns: int,
    alike: Bools,
    *,
    down: bool,
    within_ns: int,
    share: float = 0.0,
) -> list[Leap]:
    """Where the quantity leaps among steps that are `alike` (one a pair of neighbouring samples).

    `down`: only what falls, told by what else falls; else either way, told by all. `period_ns`: between two samples;
    stamps that follow sooner were late. A step that lasts longer than `within_ns` tells nothing, nor does one of less
    than a `share` of the range, one that is taken back soon after, or by which a value leaves or reaches rest where
    that is small: sensors do so.
    """
    if np.count_nonzero(alike) < _FEWEST + _TOGETHER:
        return []
    steps, lasted = np.diff(values), np.maximum(np.diff(times_ns), period_ns).astype(np.float64)
    heights = np.where(alike, -steps if down else np.abs(steps), 0.0)
    rates = heights / lasted
    top = np.argpartition(-rates, _TOGETHER)[: _TOGETHER + 1]
    order = top[np.argsort(-rates[top], kind="stable")]
    for count in range(1, _TOGETHER + 1):
        usual = max(float(rates[order[count]]), 0.0)
        if rates[order[count - 1]] > _FASTER * usual:
            found = sorted(int(at) for at in order[:count])
            gone = _gone_elsewhere(np.where(alike, steps, 0.0), found, down=down)
            least = share * float(np.ptp(values))
            kept = [at for at in found if lasted[at] <= within_ns and least <= heights[at] <= gone / _SEEN]
            return [
                Leap(at, float(steps[at]), float(rates[at]) / usual if usual > 0 else np.inf)
                for at in kept
                if _lasting(times_ns, values, at)
            ]
    return []


def _lasting(times_ns: Ints, values: Floats, at: int) -> bool:
    """Whether the step neither is taken back soon, nor takes one back, nor is a small one from or to rest."""
    first, stop = np.searchsorted(times_ns, [times_ns[at] - _BACK_NS, times_ns[at + 1] + _BACK_NS]).tolist()
    step = float(values[at + 1] - values[at])
    back = np.sort(np.append(-np.diff(values[first:stop]) * np.sign(step), [0.0, 0.0]))
    alone = back[-1] >= _ALONE * back[-2] and back[-1] >= _BACK_ALONE * abs(step)
    if alone or back[-1] >= _BACK * abs(step):
        return False
    rest = min(abs(float(values[at])), abs(float(values[at + 1])))
    return bool(abs(step) > _SHOWN_FROM * np.ptp(values) or rest > _REST * abs(step))


def _gone_elsewhere(steps: Floats, without: list[int], *, down: bool) -> float:
    """How far the quantity goes at most by these steps, but for some."""
    steps[without] = 0.0
    course = np.concatenate(([0.0], np.cumsum(steps)))
    fallen, risen = np.maximum.accumulate(course) - course, course - np.minimum.accumulate(course)
    return float(fallen.max() if down else max(fallen.max(), risen.max()))
