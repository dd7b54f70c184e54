"""Under which fault sets do late reactions end a loss in time? Delays count as in `interlock.chain.lasting`.

A reaction that was due runs on from one state to the next; one that is newly due counts from the later one. Sets that
differ in this are followed apart.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.bent_steps import Moves, Steps
from interlock.chain.fault_sets import Bits
from interlock.chain.spread import Level
from interlock.chain.stepping import Numbers

__all__ = ["ended_in_time"]

_ROUNDS: Final = 32  # late reactions in a row that may end a loss; a longer row counts as no end
_MANY: Final = 4_096  # runs, from which on looking for the same ones costs less than following them all


@dataclass(frozen=True, slots=True)
class _Runs:
    origin: Numbers
    level: Level
    now: Numbers  # ns since the origin
    ends: Numbers  # a column for each reaction: when it comes at the latest, if it is due


def ended_in_time(
    steps: Steps,
    still_lost: Callable[[Level], Bits],
    bad: Level,
    delays_ns: Mapping[int, int],
    within_ns: int | None,
) -> Bits:
    """For each bad state the sets under which some order of these reactions, each at its latest, ends the loss."""
    ended = np.zeros_like(bad.bits)
    columns, delays = (
        np.array(sorted(delays_ns), np.int64),
        np.array([delays_ns[one] for one in sorted(delays_ns)]),
    )
    start = np.zeros(len(bad.words), np.int64)
    runs = _Runs(np.arange(len(bad.words)), bad, start, start[:, None] + delays)
    for _ in range(_ROUNDS):
        moves = steps.fire(runs.level.words, runs.level.bits, frozenset(delays_ns))
        runs = _on(runs, moves, np.searchsorted(columns, moves.event), delays)
        if within_ns is not None:
            runs = _chosen(runs, runs.level.bits, np.flatnonzero(runs.now <= within_ns))
        still = still_lost(runs.level)
        np.bitwise_or.at(ended, runs.origin, runs.level.bits & ~still)
        still = still & ~ended[runs.origin]
        runs = _chosen(runs, still, np.flatnonzero(still.any(axis=1)))
        if len(runs.now) > _MANY:
            runs = _alike(runs)
        if not len(runs.now):
            break
    return ended


def _on(runs: _Runs, moves: Moves, column: Numbers, delays: Numbers) -> _Runs:
    """Each run with each of the reactions that are due."""
    due = np.zeros((len(runs.now), len(delays), moves.bits.shape[1]), np.uint64)
    np.bitwise_or.at(due, (moves.row, column), moves.bits)
    which, bits, goes_on = _apart(moves.bits, due[moves.row])
    row, fired = moves.row[which], column[which]
    now = np.maximum(runs.now[row], runs.ends[row, fired])
    goes_on[np.arange(len(fired)), fired] = False
    ends = np.where(goes_on, runs.ends[row], now[:, None] + delays)
    return _Runs(runs.origin[row], Level(moves.words[which], bits), now, ends)


def _apart(bits: Bits, due: Bits) -> tuple[Numbers, Bits, Truths]:
    """Rows of sets parted until each reaction was due under all sets of a row or none: the row that each is of, its
    sets, and whether each reaction was due."""
    which, goes_on = np.arange(len(bits)), np.zeros(due.shape[:2], np.bool_)
    for at in range(due.shape[1]):
        with_, without = bits & due[which, at], bits & ~due[which, at]
        goes_on[:, at] = with_.any(axis=1)
        both = np.flatnonzero(goes_on[:, at] & without.any(axis=1))
        if both.size:
            bits = np.concatenate([bits, without[both]])
            bits[both] = with_[both]
            which, goes_on = np.append(which, which[both]), np.concatenate([goes_on, goes_on[both]])
            goes_on[-len(both) :, at] = False
    return which, bits, goes_on


def _alike(runs: _Runs) -> _Runs:
    """Of runs that are the same in everything, one: else each order of the same reactions would be followed."""
    words, count = runs.level.words, len(runs.now)
    columns = (words.reshape(count, -1), runs.level.bits, runs.origin, runs.now, runs.ends)
    keys = np.column_stack([one.astype(np.uint64) for one in columns])
    first = np.sort(np.unique(keys, axis=0, return_index=True)[1])
    return _chosen(runs, runs.level.bits, first)


def _chosen(runs: _Runs, bits: Bits, rows: Numbers) -> _Runs:
    return _Runs(
        runs.origin[rows], Level(runs.level.words[rows], bits[rows]), runs.now[rows], runs.ends[rows]
    )
