"""Every stretch of a log in which a device demands a stop."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from interlock.replay.modes import MODE_CHANGE
from interlock.replay.observation import Observation
from interlock.timing.edges import Change, changes
from interlock.timing.track import NO, YES, Track

__all__ = ["LONG_AGO", "Period", "demands_of", "periods"]

LONG_AGO: Final = -(2**62)
"""An instant before every log, in nanoseconds."""


@dataclass(frozen=True, slots=True)
class Period:
    """A demand present without a break; `onset` None: since before the log, `gone` None: to its end."""

    device: str
    onset: Change | None
    gone: Change | None
    functions: tuple[str, ...] = ()  # those whose demand it is


def periods(observation: Observation) -> list[Period]:
    """Every period in which a device demands a stop, in order of their onsets, whatever the mode."""
    return _in_order(
        period for device, track in observation.demands.items() for period in _periods(device, track)
    )


def demands_of(observation: Observation) -> list[Period]:
    """Every period in which functions are demanded in a mode in which they are required, and every change of the
    mode that asks for a stop, in order of their onsets."""
    functions, modes = observation.bench.required.functions, observation.bench.required.modes
    groups: dict[int, tuple[Track, list[str]]] = {}
    for device in observation.demands:
        for name, function in functions.items():
            if function.demand == device:
                track = observation.asked[name]
                groups.setdefault(id(track), (track, []))[1].append(name)
    found: list[Period] = []
    for track, names in groups.values():
        device = functions[names[0]].demand
        doubts = [] if functions[names[0]].in_modes is None else _broken(track, observation)
        found += _periods(device, track, tuple(names), doubts)
    if modes is not None and modes.change == "stops":
        found += [Period(modes.by, edge, edge, (MODE_CHANGE,)) for edge in observation.mode_changes]
    return _in_order(found)


def _in_order(found: Iterable[Period]) -> list[Period]:
    return sorted(found, key=lambda one: LONG_AGO if one.onset is None else one.onset.when.lo)


def _broken(track: Track, observation: Observation) -> list[Change]:
    """For each stretch in which the mode was unknown for longer than a person needs, and the demand went on: its end
    and its new beginning, since the mode may have been one in which nothing was asked for."""
    known = np.flatnonzero(track.states >= NO)
    found = []
    for old, new in pairwise(known.tolist()):
        apart = track.interval(old, new)
        long = apart.hi is None or apart.hi - apart.lo > observation.bench.required.restart.no_sooner_than
        if new - old > 1 and long and track.states[old] == track.states[new] == YES:
            found += [Change(track, old, new, to, apart, blind=True) for to in (False, True)]
    return found


def _periods(
    device: str, track: Track, functions: tuple[str, ...] = (), doubts: Sequence[Change] = ()
) -> Iterator[Period]:
    edges = sorted([*changes(track), *doubts], key=lambda one: one.first_new)
    known = track.states[track.states >= NO]
    onset: Change | None = None
    present = bool(len(known)) and int(known[0]) == YES
    for edge in edges:
        if edge.to:
            onset, present = edge, True
        else:
            yield Period(device, onset, edge, functions)
            present = False
    if present:
        yield Period(device, onset, None, functions)
