"""When a condition ended for good within a window, at best and at worst."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.timing.track import BLIND, NO, YES, Track

__all__ = ["Settled", "Window", "settled"]


@dataclass(frozen=True, slots=True)
class Window:
    """From an onset to an end, which is an instant only known to lie in an interval (None: the log's end)."""

    onset: Interval
    end: Interval | None


@dataclass(frozen=True, slots=True)
class Settled:
    """How a condition ended within a window."""

    at: Interval  # holds the instant from which it was false for good; hi None: not shown to be false at the end
    before: int  # the state at the last sample surely before the onset (BLIND: there is none)
    returned: tuple[int, ...]  # stamps at which it surely held again after it surely had ended
    again: tuple[int, ...]  # those of them after an end that was surely not before the onset
    held: bool  # at some sample of the window, or the one before it, it surely held
    ended: bool  # at some sample of the window, or the one before it, it surely did not
    blind_before: bool  # evidence is missing between the onset and `at`
    blind_after: bool  # evidence is missing after its first sure end
    last_stamp_ns: int | None  # of the last sample in the window


def settled(track: Track, window: Window) -> Settled:
    """Follow `track` from the last sample surely before the onset to the last surely before the end."""
    first, stop, prior = _bounds(track, window)
    states = track.states[first:stop]
    sure, possible = np.flatnonzero(states == YES), np.flatnonzero(states != NO)
    lo = window.onset.lo
    if len(sure):
        lo = track.clock.sampled(int(track.stamps_ns[first + sure[-1]])).lo
    after = _first_end(states, prior)
    back = track.stamps_ns[first + after : stop][states[after:] == YES]
    surely = _ended_since(track, window.onset, first, states)
    return Settled(
        at=_for_good(track, window, lo, first, possible, len(states), prior),
        before=prior,
        returned=tuple(back.tolist()),
        again=() if surely is None else tuple(back[back > surely].tolist()),
        held=bool(len(sure)),
        ended=bool((states == NO).any()),
        blind_before=bool((states[: len(states) if len(possible) == 0 else possible[-1] + 1] == BLIND).any()),
        blind_after=bool((states[after:] == BLIND).any()),
        last_stamp_ns=int(track.stamps_ns[stop - 1]) if stop > first else None,
    )


def _bounds(track: Track, window: Window) -> tuple[int, int, int]:
    """Indices of the window's samples (with one before the onset, if there is one), and the state of that one."""
    margin = track.clock.least_ns - track.clock.width_ns
    start = int(np.searchsorted(track.stamps_ns, window.onset.lo + margin, side="right")) - 1
    stop = len(track.stamps_ns)
    if window.end is not None:
        stop = int(np.searchsorted(track.stamps_ns, window.end.lo + margin, side="left"))
    if start < 0:
        return 0, max(stop, 0), BLIND
    return start, max(stop, start + 1), int(track.states[start])


def _for_good(
    track: Track, window: Window, lo: int, first: int, possible: NDArray[np.intp], count: int, prior: int
) -> Interval:
    if len(possible) == 0 and prior == NO:
        return Interval(window.onset.lo, window.onset.lo)
    after = int(possible[-1]) + 1 if len(possible) else 0
    if after == count:
        return Interval(lo, None)
    shown = track.clock.sampled(int(track.stamps_ns[first + after])).hi
    return Interval(lo, None if shown is None else max(lo, shown))


def _ended_since(track: Track, onset: Interval, first: int, states: NDArray[np.int8]) -> int | None:
    """Stamp of the first sample, surely not taken before the onset, at which the condition does not hold."""
    if onset.hi is None:
        return None
    stamps = track.stamps_ns[first : first + len(states)]
    later = stamps[(states == NO) & (stamps >= onset.hi + track.clock.most_ns + track.clock.width_ns)]
    return int(later[0]) if len(later) else None


def _first_end(states: NDArray[np.int8], prior: int) -> int:
    """Index of the first sample of the window at which the condition surely does not hold."""
    ended = np.flatnonzero(states == NO)
    if prior == YES:
        ended = ended[ended > 0]
    return int(ended[0]) if len(ended) else len(states)
