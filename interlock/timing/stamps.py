"""What is odd about the stamps of one message: steps, duplicates, coarse digits, stamps given in blocks.

Each is said, none is mended. Stamps as the log has them, in the order of the file, integer nanoseconds.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import gcd

import numpy as np
from numpy.typing import ArrayLike, NDArray

from interlock.timing.inputs import TimingError, positive, whole

__all__ = ["Blocked", "Odd", "OddKind", "blocked", "odd_stamps", "resolution_ns"]


class OddKind(StrEnum):
    """What a stamp does that an undisturbed clock would not."""

    STEP_BACK = "step back"  # before the stamp above it
    DUPLICATE = "duplicate"  # equal to the stamp above it
    STEP_FORWARD = (
        "step forward"  # later than the counter of the message allows: the clock jumped or stood still
    )
    GAP_OR_STEP = "gap or step forward"  # later than the period allows; stamps alone do not tell which


@dataclass(frozen=True, slots=True)
class Odd:
    """One odd stamp."""

    kind: OddKind
    index: int  # of the sample that bears it
    at_ns: int
    by_ns: int  # the distance from the stamp above it


@dataclass(frozen=True, slots=True)
class Blocked:
    """Stamps that come in blocks: a logger stamped its buffer, or the message is sent in bursts."""

    blocks: int
    size: int  # samples of the largest block
    late_ns: int  # a sample may have been taken this long before its stamp


def odd_stamps(
    times_ns: ArrayLike,
    period_ns: int | None = None,
    *,
    factor: float = 3.0,
    counted: ArrayLike | None = None,
) -> tuple[Odd, ...]:
    """Every odd stamp of a periodic message, in order.

    `period_ns`: the stated period, else the median distance of stamps. Odd is more than `factor` periods. `counted`
    int[n - 1]: by how much the alive counter went on between neighbours (1: none lost), which tells lost frames
    (not odd here) from a step of the clock.
    """
    times = _integers(times_ns)
    apart = np.diff(times)
    if not len(apart):
        return ()
    usual = whole("period_ns", period_ns, 1) if period_ns is not None else _median(apart)
    frames = np.ones(len(apart)) if counted is None else np.maximum(1, _counts(counted, len(apart)))
    kinds = {
        OddKind.STEP_BACK: apart < 0,
        OddKind.DUPLICATE: apart == 0,
        OddKind.GAP_OR_STEP if counted is None else OddKind.STEP_FORWARD: apart
        > positive("factor", factor) * usual * frames,
    }
    found = [
        Odd(kind, int(at) + 1, int(times[at + 1]), int(apart[at]))
        for kind, hits in kinds.items()
        for at in np.flatnonzero(hits)
    ]
    return tuple(sorted(found, key=lambda odd: odd.index))


def resolution_ns(times_ns: ArrayLike) -> int:
    """The widest step that all distances of stamps are multiples of; 0 if there are no two different stamps."""
    apart = np.unique(np.abs(np.diff(_integers(times_ns))))
    return gcd(*apart.tolist()) if len(apart) else 0


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
    return Blocked(len(starts), size, int((times[ends[1:]] - times[ends[:-1]]).max()))


def _median(apart: NDArray[np.int64]) -> int:
    forward = apart[apart > 0]
    return int(np.median(forward)) if len(forward) else 1


def _integers(times_ns: ArrayLike) -> NDArray[np.int64]:
    times = np.asarray(times_ns)
    if times.ndim != 1 or not (times.size == 0 or np.issubdtype(times.dtype, np.integer)):
        raise TimingError(
            f"stamps are {times.dtype} of shape {times.shape}: give one row of integer nanoseconds"
        )
    return times.astype(np.int64)


def _counts(counted: ArrayLike, length: int) -> NDArray[np.int64]:
    found = _integers(counted)
    if len(found) != length:
        raise TimingError(f"{len(found)} steps of the counter for {length} distances: give one each")
    return found
