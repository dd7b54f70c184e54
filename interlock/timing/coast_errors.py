"""What is stated of the samples of a coast-down, and how far that explains a record which friction alone does not.

A bound says how large an error may be, never how soon it changes: errors that wander slowly bend the record, just as
friction of another form does. What stays within the bounds is taken for such errors, and the prediction then carries
them with the memory that harms it most; what leaves them is friction that the model does not have.
Source: JCGM 100:2008, 4.3.7 (bounds as a rectangular distribution) and 5.2.2 (correlated inputs).
"""

from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.timing.blocks import Blocks
from interlock.timing.inputs import at_least_zero

__all__ = ["EXACT", "Stated", "resolution", "widest"]

Floats = NDArray[np.float64]
_MEMORIES: Final = (0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 1.0)  # of the record's length


@dataclass(frozen=True, slots=True)
class Stated:
    """Bounds of the errors of each sample, whatever their course in time."""

    value: float = 0.0  # rad/s: a speed is off by at most plus or minus this
    wander_s: float = 0.0  # the delay from sampling to stamp lies within a span of this length

    def __post_init__(self) -> None:
        at_least_zero("value", self.value, "give the largest error of a speed, rad/s, 0 or more")
        at_least_zero("wander_s", self.wander_s, "give the longest less the shortest delay, s, 0 or more")

    def bound(self, slowing: Floats, step: float) -> Floats:
        """Largest error of a speed, rad/s, for a shaft that slows by `slowing` rad/s²; `step`: of the resolution."""
        return self.value + step / 2 + np.abs(slowing) * self.wander_s / 2

    def deviation(self, slowing: Floats, step: float) -> Floats:
        """Standard deviation of the same errors, each equally probable anywhere within its bounds."""
        parts = (self.value**2, (step / 2) ** 2, (np.abs(slowing) * self.wander_s / 2) ** 2)
        return np.sqrt(np.asarray(sum(parts)) / 3)


EXACT: Final = Stated()


def resolution(values: Floats) -> float:
    """The least step between two values of a record, 0 for fewer than two: its resolution, or less."""
    steps = np.diff(np.unique(values))
    return float(steps.min()) if steps.size else 0.0


def widest(weights: Floats, deviations: Floats, blocks: Blocks) -> float:
    """Greatest standard deviation that errors of the blocks give a result, over memories from short to long.

    `weights` [blocks]: change of the result for a unit error of each block's mean; `deviations` [blocks] of those
    errors. The correlation of two blocks falls exponentially with the time between them.
    """
    middles = blocks.weighed(blocks.seconds) * blocks.weights
    apart = np.abs(middles[:, None] - middles) / float(blocks.seconds[-1] or 1.0)
    each = weights * deviations
    return max(sqrt(max(0.0, float(each @ np.exp(-apart / memory) @ each))) for memory in _MEMORIES)
