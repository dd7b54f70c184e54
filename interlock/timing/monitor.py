"""Was every rise of one condition answered by another in time? All rises of a log at once, with bounds.

The property: whenever `trigger` becomes true, `answer` is true at some instant from then until `within` later (it
may be true already). Between neighbouring known samples a condition is taken to change at most once; where samples
are unknown or missing, anything may have happened: a rise there is possible, and must be answered as well.
Source: bounded response of metric temporal logic, G(rise a -> F[0, T] b) (Koymans 1990, from memory).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.timing.inputs import whole
from interlock.timing.track import NO, UNKNOWN, YES, Clock, Track
from interlock.verdict import Verdict

__all__ = ["NEVER", "Responses", "respond"]

Stamps = NDArray[np.int64]
NEVER: Final = 2**63 - 1
"""An upper bound of a latency that the log does not bound."""


@dataclass(frozen=True, slots=True, eq=False)
class Responses:
    """Each rise that happened or may have happened, in order; every array is [rises]."""

    within_ns: int
    rise_lo: Stamps  # ns; the rise happened between these, if it did
    rise_hi: Stamps
    certain: NDArray[np.bool_]  # it happened
    latency_lo: Stamps  # ns until answered, at least
    latency_hi: Stamps  # at most; NEVER: not bounded

    @property
    def answered(self) -> NDArray[np.int8]:
        """For each rise YES (surely in time, if it happened), NO (it happened and surely was not) or UNKNOWN."""
        in_time, late = self.latency_hi <= self.within_ns, self.certain & (self.latency_lo > self.within_ns)
        return np.where(in_time, YES, np.where(late, NO, UNKNOWN)).astype(np.int8)

    def latencies(self) -> tuple[Interval, ...]:
        """Of the rises that happened: holds the true latency of each."""
        rows = zip(
            self.latency_lo[self.certain].tolist(), self.latency_hi[self.certain].tolist(), strict=True
        )
        return tuple(Interval(lo, None if hi == NEVER else hi) for lo, hi in rows)

    def verdict(self) -> Verdict:
        """Fail if a rise surely was not answered, pass if all surely were and one happened."""
        answered = self.answered
        if np.any(answered == NO):
            return Verdict.FAIL
        if np.any(answered == UNKNOWN):
            return Verdict.INCONCLUSIVE
        return Verdict.PASS if self.certain.any() else Verdict.NOT_OBSERVED


def respond(trigger: Track, answer: Track, within_ns: int) -> Responses:
    """Bounds of the latency of every rise of `trigger` until `answer`; in time linear in the samples."""
    low, high, certain = _rises(trigger)
    shown, hidden = _runs(answer, YES), _runs(answer, NO)
    return Responses(
        within_ns=whole("within_ns", within_ns),
        rise_lo=low,
        rise_hi=high,
        certain=certain,
        latency_lo=_at_least(low, high, *hidden),
        latency_hi=_at_most(low, high, *shown),
    )


def _rises(track: Track) -> tuple[Stamps, Stamps, NDArray[np.bool_]]:
    """Lower and upper bound of each rise, and whether it happened."""
    states = track.states
    if (
        len(states) and states.min() >= NO
    ):  # nothing is hidden: the rises themselves, by one look at neighbours
        old = np.flatnonzero(states[1:] > states[:-1])
        low, _ = _sampled(track.clock, track.stamps_ns[old])
        _, high = _sampled(track.clock, track.stamps_ns[old + 1])
        return low, high, np.ones(len(old), np.bool_)
    marks = _marks(states)
    old, new = marks[:-1], marks[1:]
    certain = (states[old] == NO) & (states[new] == YES)
    rising = np.flatnonzero(certain | (new - old > 1) | (states[old] < NO) | (states[new] < NO))
    low, _ = _sampled(track.clock, track.stamps_ns[old[rising]])
    _, high = _sampled(track.clock, track.stamps_ns[new[rising]])
    return low, high, certain[rising]


def _marks(states: NDArray[np.int8]) -> NDArray[np.intp]:
    """Indices of the known samples, and of the first and the last sample whether known or not."""
    if not len(states):
        return np.empty(0, dtype=np.intp)
    known = np.flatnonzero(states >= NO)
    first = [] if len(known) and known[0] == 0 else [0]
    last = [] if len(known) and known[-1] == len(states) - 1 else [len(states) - 1]
    return np.concatenate([first, known, last]).astype(np.intp)


def _runs(track: Track, state: int) -> tuple[Stamps, Stamps]:
    """For each run of samples in one state: the latest instant of its first, the earliest of its last."""
    inside = np.concatenate([[False], track.states == state, [False]])
    first, last = np.flatnonzero(inside[1:] & ~inside[:-1]), np.flatnonzero(inside[:-1] & ~inside[1:]) - 1
    return _sampled(track.clock, track.stamps_ns[first])[1], _sampled(track.clock, track.stamps_ns[last])[0]


def _at_most(low: Stamps, high: Stamps, begun: Stamps, ended: Stamps) -> Stamps:
    """The first run that surely goes on until the rise answers it: at once, or where it surely has begun."""
    place = np.searchsorted(ended, high, side="left")
    answered = np.append(begun, NEVER)[place]
    return np.where(answered == NEVER, NEVER, np.maximum(0, answered - np.minimum(low, answered)))


def _at_least(low: Stamps, high: Stamps, begun: Stamps, ended: Stamps) -> Stamps:
    """A run that surely had begun by the rise leaves it without an answer for as long as it surely goes on."""
    place = np.searchsorted(begun, low, side="right") - 1
    until: Stamps = np.append(ended, -NEVER)[place]
    lasting: Stamps = until - np.minimum(high, until)
    return lasting


def _sampled(clock: Clock, stamps: Stamps) -> tuple[Stamps, Stamps]:
    return stamps - clock.most_ns - clock.width_ns, stamps - clock.least_ns + clock.width_ns
