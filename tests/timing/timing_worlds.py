"""True signals and the logs that a sampling bus may make of them; invented, with the truth known to the nanosecond."""

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from interlock.timing.track import NO, YES, Clock, Track

MS = 1_000_000
Rng = np.random.Generator


@dataclass(frozen=True)
class Truth:
    """A two-valued signal in continuous time: it holds `first` until its first switch, then alternates."""

    first: bool
    switches: tuple[int, ...]  # ns, rising

    def at(self, instant_ns: int) -> bool:
        """The value from each switch on (the switch included)."""
        return self.first ^ (bisect_right(self.switches, instant_ns) % 2 == 1)

    def switches_to(self, value: bool) -> list[int]:
        return [one for k, one in enumerate(self.switches) if (self.first ^ (k % 2 == 0)) == value]

    def dwell_ns(self) -> int:
        """The shortest stay between two switches."""
        return min((b - a for a, b in pairwise(self.switches)), default=2**60)


def clock_of(rng: Rng) -> Clock:
    """Some stated delay and width of the stamps."""
    least = int(rng.integers(0, 2 * MS))
    width = int(rng.choice([0, 1, 1000, 100_000]))
    return Clock(least, least + int(rng.choice([0, 1, 1000, 400_000, 4 * MS])), width)


def contents(
    rng: Rng, period_ns: int, end_ns: int, loss: float = 0.0, jitter: float = 0.0
) -> NDArray[np.int64]:
    """When the content of each frame is sampled: about every period, some frames lost."""
    times = np.arange(int(rng.integers(0, period_ns)), end_ns, period_ns)
    times = times + rng.integers(0, max(1, int(jitter * period_ns)), len(times))
    keep = rng.random(len(times)) >= loss
    return times[keep] if keep.any() else times


def stamped(rng: Rng, times: NDArray[np.int64], clock: Clock) -> NDArray[np.int64]:
    """Stamps within the stated delay, in the order of the frames, cut to the width."""
    band = clock.most_ns - clock.least_ns
    kind = rng.integers(0, 3)  # evenly, always short, or now and then as long as may be
    late = [
        rng.integers(0, band + 1, len(times)),
        np.zeros(len(times), int),
        band * (rng.random(len(times)) < 0.3),
    ]
    stamps = np.maximum.accumulate(times + clock.least_ns + late[kind].astype(np.int64))
    return stamps if clock.width_ns < 2 else stamps // clock.width_ns * clock.width_ns


def track_of(
    rng: Rng, truth: Truth, times: NDArray[np.int64], clock: Clock, message: str = "M", name: str = "it"
) -> Track:
    """What a log shows of the true signal."""
    switched = np.searchsorted(np.array(truth.switches, dtype=np.int64), times, side="right") % 2 == 1
    states = np.where(switched ^ truth.first, YES, NO).astype(np.int8)
    return Track(name, message, stamped(rng, times, clock), states, clock)


def seen_throughout(truth: Truth, times: NDArray[np.int64]) -> bool:
    """Whether every stay of the signal between its switches holds a sample: nothing is too short to be seen."""
    return len(times) > 1 and truth.dwell_ns() > int(np.diff(times).max())


def thinned(track: Track, keep: NDArray[np.bool_]) -> Track:
    """The same log with fewer frames."""
    return Track(track.name, track.message, track.stamps_ns[keep], track.states[keep], track.clock)


def with_states(track: Track, change: Callable[[NDArray[np.int8]], NDArray[np.int8]]) -> Track:
    """The same frames with other states."""
    return Track(track.name, track.message, track.stamps_ns, change(track.states.copy()), track.clock)
