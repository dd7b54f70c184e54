"""Do the stamps of one message come in blocks? Integer nanoseconds, as the log has them; said, never mended."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from interlock.timing.inputs import TimingError

__all__ = ["Blocked", "blocked"]


@dataclass(frozen=True, slots=True)
class Blocked:
    """Stamps that come in blocks: a logger stamped its buffer, or the message is sent in bursts."""

    size: int  # samples of the largest block
    every_ns: int  # median time from block to block


def blocked(times_ns: ArrayLike) -> Blocked | None:
    """Whether the stamps of one periodic message come in blocks; None: they do not, or too few to tell.

    Blocks: at least half of the distances are below a quarter of the mean, and there are three blocks or more.
    """
    times = np.sort(_integers(times_ns))
    apart = np.diff(times)
    if len(apart) < 5 or times[-1] == times[0]:
        return None
    close = apart < (times[-1] - times[0]) / len(apart) / 4
    starts = np.flatnonzero(np.concatenate([[True], ~close]))
    if close.mean() < 0.5 or len(starts) < 3:
        return None
    ends = np.concatenate([starts[1:], [len(times)]]) - 1
    size = int((ends - starts + 1).max())
    between = times[ends[1:]] - times[ends[:-1]]
    return Blocked(size, int(np.median(between)))


def _integers(times_ns: ArrayLike) -> NDArray[np.int64]:
    times = np.asarray(times_ns)
    if times.ndim != 1 or not (times.size == 0 or np.issubdtype(times.dtype, np.integer)):
        raise TimingError(
            f"stamps are {times.dtype} of shape {times.shape}: give one row of integer nanoseconds"
        )
    return times.astype(np.int64)
