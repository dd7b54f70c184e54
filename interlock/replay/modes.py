"""The mode that a log shows to be selected, and what the change of the mode itself demands."""

from collections.abc import Iterable, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench import Bench
from interlock.bench.expr import Expr, Not, Or
from interlock.bench.required_models import Function, Modes
from interlock.timing.edges import Change, changes, holds_at
from interlock.timing.track import BLIND, NO, UNKNOWN, YES, States, Track, combine

__all__ = [
    "MODE_CHANGE",
    "applies",
    "at_samples",
    "function_of",
    "limits_of",
    "mode_at",
    "mode_changes",
    "narrowed",
]

MODE_CHANGE: Final = "mode_change"
"""Stands for a function: the stop that a change of the mode asks for."""


def applies(modes: Modes, own: Iterable[str]) -> Expr:
    """A function required in these modes is required now: one of them is selected, or none at all."""
    wanted = set(own)
    others = tuple(mode.selected for name, mode in modes.each.items() if name not in wanted)
    return Or((Not(Or(others)), *(modes.each[name].selected for name in modes.each if name in wanted)))


def function_of(bench: Bench, name: str) -> Function:
    """The function; for MODE_CHANGE one that takes the torque of every unit away."""
    modes = bench.required.modes
    if name != MODE_CHANGE or modes is None:
        return bench.required.functions[name]
    selector = bench.devices[modes.by].name
    title = f"changing the mode by the {selector} stops the bench"
    return Function(
        title=title, demand=modes.by, stop_category=0, effects=["torque_off"], source=modes.source
    )


def limits_of(bench: Bench, name: str) -> Mapping[str, int]:
    """In which time, ns, the function takes torque away, by each of its units."""
    required = bench.required
    if name == MODE_CHANGE:
        return {unit: required.torque_limit_ns(None, unit) for unit in required.effects.torque_off.of}
    return {unit: required.torque_limit_ns(name, unit) for unit in required.units_of(name)}


def mode_changes(selected: Iterable[Track]) -> list[Change]:
    """Every change of the selected mode, in order; leaving one and entering another at one sample is one change."""
    found: dict[tuple[int, int], Change] = {}
    for track in selected:
        for edge in changes(track):
            stamps = int(track.stamps_ns[edge.last_old]), int(track.stamps_ns[edge.first_new])
            found.setdefault(stamps, edge)
    return [found[stamps] for stamps in sorted(found, key=lambda pair: (pair[1], pair[0]))]


def mode_at(selected: Mapping[str, Track], change: Change) -> str | None:
    """The mode that was surely selected just before and just after the change; None: none, or it cannot be told."""
    sure = [mode for mode, track in selected.items() if holds_at(track, change) == YES]
    return sure[0] if len(sure) == 1 else None


def narrowed(track: Track, only: Track) -> Track:
    """The condition of `track` while that of `only` holds too, at the samples of `track`."""
    return Track(
        track.name, track.message, track.stamps_ns, _both(track.states, at_samples(track, only)), track.clock
    )


def _both(first: States, second: States) -> States:
    """Both hold; BLIND where that hangs on evidence that is missing."""
    states = combine([first, second], every=True)
    blind = (first == BLIND) | (second == BLIND)
    states[(states == UNKNOWN) & blind] = BLIND
    states[first == BLIND] = BLIND
    return states


def at_samples(track: Track, other: Track) -> States:
    """What `other`, of another message, showed when each sample of `track` was taken; [n] of int8.

    YES or NO only if there are samples surely before and surely after it, and all between agree.
    """
    mine, its = track.clock, other.clock
    earliest = track.stamps_ns - mine.most_ns - mine.width_ns
    latest = track.stamps_ns - mine.least_ns + mine.width_ns
    first = np.searchsorted(other.stamps_ns, earliest + its.least_ns - its.width_ns, side="right") - 1
    last = np.searchsorted(other.stamps_ns, latest + its.most_ns + its.width_ns, side="left")
    inside = (first >= 0) & (last < len(other.stamps_ns))
    lo, hi = np.maximum(first, 0), np.minimum(last, len(other.stamps_ns) - 1) + 1
    count = {state: _within(other.states == state, lo, hi) for state in (YES, NO, BLIND)}
    shown = np.full(len(track.stamps_ns), UNKNOWN, np.int8)
    for state in (YES, NO):
        shown[inside & (count[state] == hi - lo)] = state
    shown[count[BLIND] > 0] = BLIND
    return shown


def _within(marked: NDArray[np.bool_], lo: NDArray[np.intp], hi: NDArray[np.intp]) -> NDArray[np.intp]:
    """How many are marked in each of the ranges."""
    total = np.concatenate([[0], np.cumsum(marked, dtype=np.intp)])
    counted: NDArray[np.intp] = total[hi] - total[lo]
    return counted
