"""The least that a walk has yet to pay, wherever it stands and whatever it still has to do.

Each need, that is a set of ways of which a walk takes one at least, gets a price. A way is then reduced by the prices
of all needs that it meets. A walk costs what it would cost reduced, and for each need its price as often as it is
met: so no less than the cheapest reduced walk to where it may end, and the prices of what it has to meet. That holds
for any prices from zero up. The duals of a linear program make them good ones, but nothing hangs on its being
right. All is counted in whole parts of a unit of cost: nothing is rounded.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array

from interlock.procedure.walkway import Walkway

__all__ = ["FAR", "PARTS", "Left", "cheapest_on", "left_over"]

PARTS: Final = 10_000
"""Of one unit of cost."""
FAR: Final = 1 << 60
"""No walk leads on from there."""
Need = Collection[int]
"""Ways, by number, of which a walk takes at least one."""


@dataclass(frozen=True, slots=True)
class Left:
    """Prices of the needs, what each way costs reduced by them, and the way on to an end from each place, reduced."""

    prices: tuple[int, ...]
    reduced: tuple[int, ...]
    onward: tuple[int, ...]

    @property
    def bound(self) -> int:
        """Whole units of cost that every walk from power-up pays at least."""
        return -(-max(0, sum(self.prices) + self.onward[0]) // PARTS)


def left_over(walkway: Walkway, needs: Sequence[Need]) -> Left:
    """Prices for these needs, and what follows from them."""
    prices = _prices(walkway, needs)
    source, target = ([getattr(way, end) for way in walkway.ways] for end in ("source", "target"))
    ends = [0 if place in walkway.ends else FAR for place in range(len(walkway.places))]
    while True:
        reduced = np.array([way.cost * PARTS for way in walkway.ways], np.int64)
        for need, price in zip(needs, prices, strict=True):
            reduced[list(need)] -= price
        onward = cheapest_on(ends, source, target, reduced)
        if onward is not None:
            return Left(tuple(prices), tuple(reduced.tolist()), tuple(onward))
        prices = [price // 2 for price in prices]


def cheapest_on(
    last: Sequence[int], source: Sequence[int], target: Sequence[int], cost: Sequence[int] | NDArray[np.int64]
) -> list[int] | None:
    """From each place the cheapest way on (Bellman and Ford), of which `last` is what it costs to go no further.

    None: some round trip costs less than nothing, and there is no cheapest.
    """
    best, start, to = (np.array(one, np.int64) for one in (last, source, target))
    for _ in range(len(best) + 1):
        after = best.copy()
        np.minimum.at(after, start, np.where(best[to] < FAR // 2, np.asarray(cost) + best[to], FAR))
        if (after == best).all():
            return [int(one) for one in best]
        best = after
    return None


def _prices(walkway: Walkway, needs: Sequence[Need]) -> list[int]:
    """The duals of the cheapest flow that meets all needs, in whole parts, each a little less; zeros if there is none.

    A walk is a flow of one unit from power-up to a place where it may end. Columns: times of each way, ends.
    """
    ways, places = len(walkway.ways), len(walkway.places)
    if not needs:
        return []
    cost = np.array([*(way.cost for way in walkway.ways), *np.zeros(places)], np.float64)
    most = [None] * ways + [None if place in walkway.ends else 0 for place in range(places)]
    found = linprog(
        cost,
        A_ub=-_meets(needs, ways + places),
        b_ub=-np.ones(len(needs)),
        A_eq=_balance(walkway),
        b_eq=-np.eye(1, places)[0],
        bounds=[(0, one) for one in most],
    )
    if found.status != 0:
        return [0] * len(needs)
    return [max(0, math.floor(-one * PARTS) - 1) for one in found.ineqlin.marginals.tolist()]


def _balance(walkway: Walkway) -> Any:
    """Into each place less out of it, less the end there: minus one at power-up, else zero."""
    ways, places = len(walkway.ways), len(walkway.places)
    row = [one.target for one in walkway.ways] + [one.source for one in walkway.ways] + list(range(places))
    column = [*range(ways), *range(ways), *range(ways, ways + places)]
    value = [1.0] * ways + [-1.0] * (ways + places)
    return coo_array((value, (row, column)), shape=(places, ways + places)).tocsr()


def _meets(needs: Sequence[Need], width: int) -> Any:
    row = [number for number, need in enumerate(needs) for _ in need]
    column = [way for need in needs for way in need]
    return coo_array((np.ones(len(row)), (row, column)), shape=(len(needs), width)).tocsr()
