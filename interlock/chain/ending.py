"""Under which fault sets do late reactions end a loss in time? Delays count as in `interlock.chain.lasting`.

A reaction runs on from one state to the next only if it was due under every set looked at; else it is counted
from the later one, so that an end is rather found too late than too early.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

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
    now = np.maximum(runs.now[moves.row], runs.ends[moves.row, column])
    goes_on = (moves.bits[:, None, :] & ~due[moves.row] == 0).all(axis=2)
    goes_on[np.arange(len(column)), column] = False
    ends = np.where(goes_on, runs.ends[moves.row], now[:, None] + delays)
    return _Runs(runs.origin[moves.row], Level(moves.words, moves.bits), now, ends)


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
