"""A measured value that is beyond its limit in one sample alone: a spike, which decides nothing by itself."""

from dataclasses import replace
from typing import Final

import numpy as np

from interlock.bench.observe import Condition, SignalName
from interlock.replay.observation import Observation
from interlock.timing.settle import Window
from interlock.timing.track import NO, YES, Track

__all__ = ["LOOK", "lone", "without"]

LOOK: Final = "look at the sensor and its wiring, log it more often, and repeat the stop"

_VALUES: Final = 16  # a signal that takes no more different values than these is a state or a few bits
_NEAR: Final = 1.5  # of the usual time between two samples: no further lies the next one
_ORDERED: Final = ("<", "<=", ">", ">=")


def lone(seen: Observation, track: Track, window: Window) -> int | None:
    """Index of the one sample in the window at which a measured value is beyond its limit, and at no neighbour is.

    None if there is none, or more than one: what comes twice is no chance. Nor is it a spike if a neighbour is
    doubtful, missing or late, if the message comes at changes only (then its value lasts), or if the signal is a
    bit or a state.
    """
    states, stamps = track.states, track.stamps_ns
    inside = stamps[1:-1] >= window.onset.lo
    if window.end is not None:
        inside &= stamps[1:-1] <= (window.end.lo if window.end.hi is None else window.end.hi)
    found = np.flatnonzero(inside & (states[1:-1] == YES) & (states[:-2] == NO) & (states[2:] == NO)) + 1
    if len(found) != 1 or not _measured(seen, track):
        return None
    at, steps = int(found[0]), np.diff(stamps)
    near = max(steps[at - 1], steps[at]) <= _NEAR * float(np.median(steps))
    return at if near else None


def without(track: Track, at: int) -> Track:
    """The track as if the condition had not held at one sample."""
    states = track.states.copy()
    states[at] = NO
    return replace(track, states=states, memo={})


def _measured(seen: Observation, track: Track) -> bool:
    """Whether the track compares values with bounds, and each signal takes many values that bear no name."""
    shown: Condition | SignalName | None = seen.shows.states.get(
        track.name, seen.shows.values.get(track.name)
    )
    message = seen.shows.messages.get(track.message)
    if shown is None or message is None or message.on_change:
        return False
    compared = () if isinstance(shown, SignalName) else shown.comparisons
    if not all(one.operator in _ORDERED and not one.label for one in compared):
        return False
    used = [shown] if isinstance(shown, SignalName) else [one.name for one in compared]
    samples = [seen.trace.signals.get(str(name)) for name in used]
    return all(one is not None and len(np.unique(one.values)) - len(one.labels) > _VALUES for one in samples)
