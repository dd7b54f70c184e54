"""A long record as at most 48 block means, so that noise with a short memory does not make a fit look too sure.

Neighbouring samples of a filtered sensor share their noise; means of blocks longer than its memory hardly do. The
spread of the block means then holds the memory, and a test of the blocks tells whether structure is left that the
model does not have. Source: batch means of simulation analysis (common practice); von Neumann's ratio.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

__all__ = ["MOST_BLOCKS", "Blocks", "Memory", "isolated", "memory"]

Floats = NDArray[np.float64]
MOST_BLOCKS: Final = 48
_WIDTHS: Final = 8.0
_ROUNDING: Final = 1e-7  # of a record's height


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """A record cut into blocks of nearly equal count; a mean weighs as the root of its count."""

    seconds: Floats  # [n] since the first sample
    values: Floats  # [n]
    starts: NDArray[np.int64]  # [blocks] index of the first sample of each
    weights: Floats  # [blocks] 1/√count

    @classmethod
    def of(cls, seconds: Floats, values: Floats) -> "Blocks":
        """Blocks of a record of at least one sample."""
        count = min(len(seconds), MOST_BLOCKS)
        edges = np.linspace(0, len(seconds), count + 1).astype(np.int64)
        return cls(seconds, values, edges[:-1], 1 / np.sqrt(np.diff(edges)))

    def weighed(self, columns: Floats) -> Floats:
        """Sums of each block over the root of its count; [blocks, ...] for [n, ...]."""
        sums = np.add.reduceat(columns, self.starts, axis=0)
        return sums * self.weights.reshape(-1, *[1] * (columns.ndim - 1))

    def residuals(self, model: Callable[[Floats], Floats]) -> Floats:
        """Weighed block sums of model minus record; [blocks], of equal spread if the noise is steady."""
        return self.weighed(model(self.seconds) - self.values)


@dataclass(frozen=True, slots=True)
class Memory:
    """What residuals of neighbouring blocks have in common."""

    correlation: float  # of neighbours; 0 for noise without memory
    p_value: float  # how probable so much of it is without any memory and with a model that fits

    @property
    def inflation(self) -> float:
        """By how much the variance of a slow trend exceeds that of noise without memory; at least 1."""
        kept = min(max(self.correlation, 0.0), 0.95)
        return (1 + kept) / (1 - kept)


def memory(residuals: Floats, fitted: int) -> Memory:
    """Von Neumann's ratio of residuals [blocks] of a record of height 1, one-sided for those that follow each other.

    What is left of a fit to seven digits is rounding, which follows nothing. `fitted`: how many parameters were
    fitted, more than 0 and fewer than the blocks; they push neighbours apart, which is taken into account (Durbin and
    Watson's mean of the ratio).
    """
    total, count = float(residuals @ residuals), len(residuals)
    if total <= count * _ROUNDING**2:
        return Memory(0.0, 1.0)
    ratio = float(np.sum(np.diff(residuals) ** 2)) / total
    correlation = 1 - ratio / 2 + (fitted - 1) / (count - fitted)
    return Memory(correlation, float(norm.sf(correlation * np.sqrt(count))))


def isolated(values: Floats) -> NDArray[np.bool_]:
    """Samples, or pairs of them, far away from the median of five about them; [n].

    Far is more than 8 spreads of the noise, reckoned from the bend at each sample, and more than two steps of the
    sensor's resolution. The first and last sample are held against the line through the next two.
    """
    if len(values) < 5:
        return np.zeros(len(values), dtype=np.bool_)
    ends = 2 * values[[0, 0]] - values[[2, 1]], 2 * values[[-1, -1]] - values[[-2, -3]]
    windows = np.lib.stride_tricks.sliding_window_view(np.concatenate([ends[0], values, ends[1]]), 5)
    away = np.abs(values - np.median(windows, axis=1))
    away[[0, -1]] = np.abs(values[[0, -1]] - 2 * values[[1, -2]] + values[[2, -3]])
    bend = np.abs(values[1:-1] - (values[:-2] + values[2:]) / 2)
    steps = np.diff(np.unique(values))
    spread, step = 1.4826 * float(np.median(bend)) / sqrt(1.5), float(steps.min()) if steps.size else 0.0
    found: NDArray[np.bool_] = away > max(_WIDTHS * spread, 2 * step)
    return found
