"""The part of a record that falls to a floor, without samples that stand apart: what a decay is fitted to."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from interlock.timing.blocks import Blocks, isolated
from interlock.timing.inputs import NotIdentified, positive, record

__all__ = ["Falling", "falling"]

Floats = NDArray[np.float64]
_LEAST_SAMPLES: Final = 12
_MOST_ISOLATED: Final = 0.05
_WINDOW: Final = 9


@dataclass(frozen=True, slots=True, eq=False)
class Falling:
    """A falling record over its own spans: `seconds` long and `top` high."""

    blocks: Blocks  # seconds and values over the spans
    seconds: float
    top: float
    left_out: int  # isolated samples that were not used
    lowest: float  # the least mean of a block
    highest: float  # the greatest mean of a block


def falling(times_ns: ArrayLike, values: ArrayLike, floor: float) -> Falling:
    """The record from its first sample until the median of nine is at `floor`; isolated samples left out, counted.

    `times_ns` int[n], `values` [n], mostly above 0. Raises NotIdentified if too little is left or it does not fall.
    """
    times, shown = record(times_ns, values)
    positive("floor", floor, "give the lowest value to be used, above 0")
    end = _first_at_floor(shown, floor)
    apart = isolated(shown[:end])
    times, shown = times[:end][~apart], shown[:end][~apart]
    _refuse_unfit(times, shown, int(apart.sum()))
    length, top = float(times[-1] - times[0]) / 1e9, float(shown.max())
    blocks = Blocks.of((times - times[0]) / 1e9 / length, shown / top)
    means = blocks.weighed(blocks.values) * blocks.weights * top
    return Falling(blocks, length, top, int(apart.sum()), float(means.min()), float(means.max()))


def _first_at_floor(shown: Floats, floor: float) -> int:
    if len(shown) < _WINDOW:
        return len(shown)
    around = np.pad(shown, _WINDOW // 2, mode="reflect")
    medians = np.median(np.lib.stride_tricks.sliding_window_view(around, _WINDOW), axis=1)
    low = np.flatnonzero(medians <= floor)
    return int(low[0]) if len(low) else len(shown)


def _refuse_unfit(times: NDArray[np.int64], shown: Floats, apart: int) -> None:
    if len(times) < _LEAST_SAMPLES:
        raise NotIdentified(f"{len(times)} samples above the floor, at least {_LEAST_SAMPLES} are needed")
    if apart > _MOST_ISOLATED * (len(times) + apart):
        raise NotIdentified(f"{apart} of {len(times) + apart} samples stand apart from their neighbours")
    if times[-1] == times[0]:
        raise NotIdentified("all samples bear one stamp: the record has no length")
    if np.polyfit((times - times[0]) / float(times[-1] - times[0]), shown, 1)[0] > -1e-6 * abs(shown).max():
        raise NotIdentified("the record does not fall")
