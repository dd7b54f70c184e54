"""The least that any complete walk costs: an integer flow over the ways that all goals need.

A walk from power-up is a flow of one unit from there to a place where it may end, and takes for each goal, and for each
fault that can be shown, at least one of the ways where this can happen. Its beginning is a unit that flows from
power-up to such a way within what the walk takes. The flow need not hang together otherwise, so its least cost
is never above that of the cheapest walk; where it does hang together it is a walk.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array, eye_array, hstack, vstack

from interlock.procedure.walkway import Walkway

__all__ = ["Flow", "least_flow"]

_NODES: Final = 2_000  # of branch and bound, not seconds: the same answer on every machine
_ROUNDS: Final = 12
_SLACK: Final = 1e-6
Need = Collection[int]
"""Ways, by number, of which a walk takes at least one."""


@dataclass(frozen=True, slots=True)
class Flow:
    """A lower bound in whole units of cost, and how often each way is taken in the flow that was found."""

    bound: int
    times: tuple[int, ...]


def least_flow(walkway: Walkway, needs: Sequence[Need]) -> Flow:
    """The bound for walks that take, of each need, at least one way (by number).

    Needs met only by flow that power-up does not reach are, round by round, tied to it.
    """
    best, times, tied = 0, (0,) * len(walkway.ways), list[Need]()
    for _ in range(_ROUNDS):
        found = _solved(walkway, needs, tied)
        if found.mip_dual_bound is not None and math.isfinite(found.mip_dual_bound):
            best = max(best, math.ceil(found.mip_dual_bound - _SLACK))
        if found.x is None:
            break
        times = tuple(round(one) for one in found.x[: len(walkway.ways)].tolist())
        near = _near(walkway, times)
        loose = [need for need in needs if not any(way in near for way in need) and need not in tied]
        if not loose:
            break
        tied += loose[:3]
    return Flow(best, times)


def _solved(walkway: Walkway, needs: Sequence[Need], tied: Sequence[Need]) -> Any:
    """Columns: times of each way, end in each place; then for each tied need its own flow and its ends."""
    ways, places = len(walkway.ways), len(walkway.places)
    width = ways + places
    start = -np.eye(1, places)[0]
    blocks = [[_part(_balance(walkway), 0, tied, width), start, start]]
    blocks.append(
        [_part(_ones(needs, width), 0, tied, width), np.ones(len(needs)), np.full(len(needs), np.inf)]
    )
    blocks.append([_part(_ends(ways, places), 0, tied, width), np.ones(1), np.ones(1)])
    for number, need in enumerate(tied, 1):
        blocks.append([_part(_balance(walkway), number, tied, width), start, start])
        blocks.append([_part(_ends(ways, places), number, tied, width), np.ones(1), np.ones(1)])
        within = _part(_uses(walkway, need), 0, tied, width) - _part(eye_array(width), number, tied, width)
        blocks.append([within, np.zeros(width), np.full(width, np.inf)])
    cost = np.zeros(width * (len(tied) + 1))
    cost[:ways] = [one.cost for one in walkway.ways]
    integers = np.zeros(len(cost))
    integers[:ways] = 1
    most = np.full(len(cost), np.inf)
    most[[ways + place for place in range(places) if place not in walkway.ends]] = 0
    matrix = vstack([block[0] for block in blocks]).tocsr()
    low, high = (np.concatenate([block[side] for block in blocks]) for side in (1, 2))
    return milp(
        cost,
        constraints=LinearConstraint(matrix, low, high),
        integrality=integers,
        bounds=Bounds(0, most),
        options={"node_limit": _NODES},
    )


def _part(rows: Any, number: int, tied: Sequence[Need], width: int) -> Any:
    """The rows over the columns of the flow of that number, nothing over the others."""
    empty = [csr_array((rows.shape[0], width)) for _ in range(len(tied) + 1)]
    return hstack([*empty[:number], rows, *empty[number + 1 :]]).tocsr()


def _balance(walkway: Walkway) -> Any:
    """Into each place less out of it, less the end there: minus one at power-up, else zero."""
    ways, places = walkway.ways, len(walkway.places)
    row = [one.target for one in ways] + [one.source for one in ways] + list(range(places))
    column = [*range(len(ways)), *range(len(ways)), *range(len(ways), len(ways) + places)]
    value = [1.0] * len(ways) + [-1.0] * (len(ways) + places)
    return coo_array((value, (row, column)), shape=(places, len(ways) + places)).tocsr()


def _ones(needs: Sequence[Need], width: int) -> Any:
    row = [number for number, need in enumerate(needs) for _ in need]
    column = [way for need in needs for way in need]
    return coo_array(([1.0] * len(row), (row, column)), shape=(len(needs), width)).tocsr()


def _ends(ways: int, places: int) -> Any:
    return csr_array(np.concatenate([np.zeros(ways), np.ones(places)])[None, :])


def _uses(walkway: Walkway, need: Need) -> Any:
    """What bounds a tied flow: each way by its own times, an end by the times of the need's ways from there."""
    ways, width = len(walkway.ways), len(walkway.ways) + len(walkway.places)
    row = [*range(ways), *(ways + walkway.ways[way].source for way in need)]
    return coo_array(([1.0] * len(row), (row, [*range(ways), *need])), shape=(width, width)).tocsr()


def _near(walkway: Walkway, times: Sequence[int]) -> frozenset[int]:
    """The ways taken in the flow that power-up reaches within it."""
    met, waiting, near = {0}, [0], set[int]()
    while waiting:
        for way in walkway.leaving[waiting.pop()]:
            if times[way.number]:
                near.add(way.number)
                if way.target not in met:
                    met.add(way.target)
                    waiting.append(way.target)
    return frozenset(near)
