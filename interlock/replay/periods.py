"""Every stretch of a log in which a device demands a stop."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from interlock.replay.observation import Observation
from interlock.timing.edges import Change, changes
from interlock.timing.track import NO, YES, Track

__all__ = ["LONG_AGO", "Period", "periods"]

LONG_AGO: Final = -(2**62)
"""An instant before every log, in nanoseconds."""


@dataclass(frozen=True, slots=True)
class Period:
    """A demand present without a break; `onset` None: since before the log, `gone` None: to its end."""

    device: str
    onset: Change | None
    gone: Change | None


def periods(observation: Observation) -> list[Period]:
    """Every period in which a device demands a stop, in order of their onsets."""
    found = [period for device, track in observation.demands.items() for period in _periods(device, track)]
    return sorted(found, key=lambda one: LONG_AGO if one.onset is None else one.onset.when.lo)


def _periods(device: str, track: Track) -> Iterator[Period]:
    edges = changes(track)
    known = track.states[track.states >= NO]
    onset: Change | None = None
    present = bool(len(known)) and int(known[0]) == YES
    for edge in edges:
        if edge.to:
            onset, present = edge, True
        else:
            yield Period(device, onset, edge)
            present = False
    if present:
        yield Period(device, onset, None)
