"""The cheapest walk that reaches every goal, shows every fault that can be shown, and ends where a test may end.

A search by the least total: what was paid, and what is left to pay at least (`bound`). If it comes to its end, the
walk is the cheapest of all, and that is proved. If it grows too large, it goes on from the most promising place met,
and the bound is the least total that was still open.
"""

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from interlock.errors import InterlockError
from interlock.procedure.bound import FAR, PARTS, left_over
from interlock.procedure.goals import Goal
from interlock.procedure.reveal import Beside
from interlock.procedure.walkway import Way

__all__ = ["Aim", "Found", "cheapest_walk"]

_RUNGS: Final = ((100, 30_000), (103, 20_000), (105, 20_000), (110, 20_000))
"""How much what is left counts, in percent, and how many nodes are looked at in one go: not seconds, so that every
machine finds the same. More than 100 proves nothing, but comes sooner to a walk that is not much dearer."""
_SHOWN: Final = -1

_Node = tuple[int, int, tuple[int, ...]]
"""Where the walk is, the goals reached (a bit each), and the class of the bench with each fault, or that it showed."""


@dataclass(frozen=True, slots=True)
class Aim:
    """What the walk has to do; `faults`: name by the class of the state in which such a bench powers up."""

    beside: Beside
    goals: tuple[Goal, ...]
    faults: Mapping[int, str]


@dataclass(frozen=True, slots=True)
class Found:
    """A complete walk, and the least that any complete one costs, proved."""

    walk: tuple[Way, ...]
    bound: int

    @property
    def cost(self) -> int:
        """Of the whole walk."""
        return _cost(self.walk)


def cheapest_walk(aim: Aim) -> Found:
    """The walk and the bound; raises InterlockError if no walk does everything in one go."""
    search, found = _Search(aim), list[tuple[Way, ...]]()
    bound = 0
    for percent, most in _RUNGS:
        walk, open_at = search.walk(percent, most)
        bound = open_at if percent == 100 else bound
        found += [] if walk is None else [walk]
        if walk is not None and _cost(walk) <= bound:
            break
    if not found:
        raise InterlockError(search.complaint())
    return Found(min(found, key=_cost), bound)


def _cost(walk: Sequence[Way]) -> int:
    return sum(way.cost for way in walk)


class _Search:
    def __init__(self, aim: Aim) -> None:
        self._aim, walkway = aim, aim.beside.walkway
        bit = {goal: 1 << n for n, goal in enumerate(aim.goals)}
        self._meets = [sum(bit.get(goal, 0) for goal in way.goals) for way in walkway.ways]
        needs = [[way.number for way in walkway.ways if goal in way.goals] for goal in aim.goals]
        needs += [sorted(aim.beside.where(fault)) for fault in aim.faults]
        self._sight = [aim.beside.sight(place) for place in range(len(walkway.places))]
        self._left = left_over(walkway, needs)
        self._onward = aim.beside.onward(tuple(aim.faults), self._left)
        self._goal_prices = self._left.prices[: len(aim.goals)]
        self._fault_prices = self._left.prices[len(aim.goals) :]
        self._owed: dict[int, int] = {}
        self._nearest: _Node = self._start

    @property
    def _start(self) -> _Node:
        return 0, 0, tuple(self._aim.faults)

    def walk(self, percent: int, most: int) -> tuple[tuple[Way, ...] | None, int]:
        """A complete walk, if one was found, and the least total that was open in the first go."""
        node, walk, bound = self._start, list[Way](), None
        while True:
            ways, node_after, open_at = self._gone(node, percent, most)
            bound = open_at if bound is None else bound
            walk += ways
            if self._whole(node_after):
                return tuple(walk), bound
            if not ways:
                self._nearest = node
                return None, bound
            node = node_after

    def _gone(self, start: _Node, percent: int, most: int) -> tuple[list[Way], _Node, int]:
        """The ways to where all is done, or else to where the least is left; and the least total still open."""
        came: dict[_Node, tuple[_Node, Way]] = {}
        paid, least = {start: 0}, self._least(start)
        nearest, open_at, looked = (least, start), 0, 0
        queue = [(self._total(0, least, percent), least, 0, 0, start)]
        while queue and looked < most:
            total, least, _, cost, node = heapq.heappop(queue)
            if cost > paid[node]:
                continue
            open_at, looked = max(open_at, total), looked + 1
            if self._whole(node):
                return _back(came, node), node, open_at
            if least < nearest[0]:
                nearest = (least, node)
            for way, after in self._next(node):
                dearer = cost + way.cost
                if dearer < paid.get(after, FAR) and (least := self._least(after)) < FAR // 2:
                    paid[after], came[after] = dearer, (node, way)
                    total = self._total(dearer, least, percent)
                    heapq.heappush(queue, (total, least, -len(came), dearer, after))
        return _back(came, nearest[1]), nearest[1], open_at

    def _total(self, paid: int, least: int, percent: int) -> int:
        """Costs are whole, so a total is; what is more than it takes only makes the order finer."""
        total = paid * PARTS + least * percent // 100
        return -(-total // PARTS) if percent == 100 else total

    def _next(self, node: _Node) -> Iterator[tuple[Way, _Node]]:
        place, reached, faults = node
        alike, seen = self._aim.beside.alike, self._aim.beside.alike.seen
        for way in reversed(self._aim.beside.walkway.leaving[place]):  # of equals the last is taken first
            after, sight = alike.target[way.move], self._sight[way.target]
            left = tuple(
                [one if one < 0 else to if seen[to := after[one]] == sight else _SHOWN for one in faults]
            )
            yield way, (way.target, reached | self._meets[way.number], left)

    def _whole(self, node: _Node) -> bool:
        place, reached, faults = node
        done = reached == (1 << len(self._aim.goals)) - 1 and all(one == _SHOWN for one in faults)
        return done and place in self._aim.beside.walkway.ends

    def _least(self, node: _Node) -> int:
        """What is left to pay at least, in parts of a unit; FAR // 2 or more: some fault can never show from here."""
        place, reached, faults = node
        owed = self._owed.get(reached)
        if owed is None:
            owed = sum(one for n, one in enumerate(self._goal_prices) if not reached >> n & 1)
            self._owed[reached] = owed
        onward = self._left.onward[place]
        for fault, price in zip(faults, self._fault_prices, strict=True):
            if fault != _SHOWN:
                owed, onward = owed + price, max(onward, self._onward[place, fault])
        return max(0, owed + onward)

    def complaint(self) -> str:
        """What cannot be done after the rest."""
        _, reached, faults = self._nearest
        names = [goal.id for n, goal in enumerate(self._aim.goals) if not reached >> n & 1]
        left = zip(faults, self._aim.faults.values(), strict=True)
        names += [f"fault '{name}'" for fault, name in left if fault != _SHOWN]
        return (
            f"no one test was found that does everything: after the rest, nothing leads on to {', '.join(names)}; "
            "see what interlock check says of it, and mend the bench, or exclude the fault"
        )


def _back(came: Mapping[_Node, tuple[_Node, Way]], node: _Node) -> list[Way]:
    ways: list[Way] = []
    while node in came:
        node, way = came[node]
        ways.append(way)
    return ways[::-1]
