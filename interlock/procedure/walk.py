"""A cheap walk that reaches every goal, shows every fault that can be shown, and ends where a test may end."""

import heapq
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.errors import InterlockError
from interlock.procedure.bound import Flow
from interlock.procedure.goals import Goal
from interlock.procedure.reveal import Reveal
from interlock.procedure.walkway import Walkway, Way

__all__ = ["Aim", "cheapest_walk"]

_TRIES: Final = 400
_ROUNDS: Final = 200
_AGAIN: Final = 100  # tries to improve a walk that was taken up again


@dataclass(frozen=True, slots=True)
class Aim:
    """What the walk has to do: reach the goals, show the faults (by number)."""

    goals: frozenset[Goal]
    faults: tuple[int, ...]
    reveal: Reveal

    @property
    def walkway(self) -> Walkway:
        """Where the walk goes."""
        return self.reveal.walkway

    def missing(self, walk: Sequence[Way]) -> frozenset[Goal]:
        """The goals that the walk does not reach."""
        return self.goals - {goal for way in walk for goal in way.goals}

    def hidden(self, walk: Sequence[Way]) -> list[int]:
        """The faults that the walk does not show."""
        return [fault for fault in self.faults if not self._shows(walk, fault)]

    def done(self, walk: Sequence[Way]) -> bool:
        """Nothing is missing, and the bench is left as a test may leave it."""
        return _at(walk) in self.walkway.ends and not self.missing(walk) and not self.hidden(walk)

    def _shows(self, walk: Sequence[Way], fault: int) -> bool:
        state = self.reveal.start(fault)
        if self.reveal.differs(0, state):
            return True
        for way in walk:
            state = int(self.reveal.table.target[way.move, state])
            if self.reveal.differs(way.target, state):
                return True
        return False


def cheapest_walk(aim: Aim, flow: Flow, rng: np.random.Generator) -> tuple[Way, ...]:
    """The flow made a walk, completed greedily, then improved; also tried without the flow, the cheaper one kept.

    While it is dearer than the bound it is taken up again from somewhere on, with the goals in another order.
    """
    begun: tuple[list[Way], ...] = (euler(aim.walkway, flow.times), [])
    walks = [_improved(aim, _ended(aim, _completed(aim, one)), rng) for one in begun]
    best = min(walks, key=_cost)
    for _ in range(_ROUNDS):
        if _cost(best) <= flow.bound:
            break
        tried = _anew(aim, best[: int(rng.integers(len(best)))], rng)
        if tried is not None and _cost(tried) < 1.3 * _cost(best):
            best = min(best, _improved(aim, tried, rng, _AGAIN), key=_cost)
    return tuple(best)


def _anew(aim: Aim, walk: list[Way], rng: np.random.Generator) -> list[Way] | None:
    """The walk completed with one missing goal after the other, now and then not the nearest; None: not in one go."""
    while missing := sorted(aim.missing(walk), key=lambda goal: goal.id):
        wanted = frozenset(missing if rng.random() < 0.5 else [missing[int(rng.integers(len(missing)))]])
        walk = walk + _nearest(aim.walkway, walk[-1].target if walk else 0, wanted)
    while hidden := aim.hidden(walk):
        fault = hidden[int(rng.integers(len(hidden)))]
        state = aim.reveal.follow(aim.reveal.start(fault), walk)
        ways = aim.reveal.shortest(walk[-1].target if walk else 0, state)
        if not ways:
            return None
        walk = walk + list(ways)
    return _ended(aim, walk)


def _at(walk: Sequence[Way]) -> int:
    """Where the walk comes to."""
    return walk[-1].target if walk else 0


def _ended(aim: Aim, walk: list[Way]) -> list[Way]:
    """The walk led on to the nearest place where it may end; from every place a way leads to one."""
    return walk + (_straight(aim.walkway, _at(walk), aim.walkway.ends) or [])


def _cost(walk: Iterable[Way]) -> int:
    return sum(way.cost for way in walk)


def euler(walkway: Walkway, times: Sequence[int]) -> list[Way]:
    """A walk from power-up that takes each way as often as told, as far as the ways hang together with it."""
    left = list(times)
    stack: list[tuple[int, Way | None]] = [(0, None)]
    walk: list[Way] = []
    while stack:
        at, came = stack[-1]
        way = next((one for one in walkway.leaving[at] if left[one.number]), None)
        if way is not None:
            left[way.number] -= 1
            stack.append((way.target, way))
            continue
        stack.pop()
        if came is not None:
            walk.append(came)
    return walk[::-1]


def _completed(aim: Aim, walk: list[Way]) -> list[Way]:
    """The walk with what is missing added at its end, the nearest goal first, then the faults.

    A fault that no way from the walk's end shows any more is shown first of all, and the rest after it.
    """
    prefix = walk
    while missing := aim.missing(walk):
        walk = walk + _nearest(aim.walkway, walk[-1].target if walk else 0, missing)
    while hidden := aim.hidden(walk):
        at, state = walk[-1].target if walk else 0, aim.reveal.start(hidden[0])
        ways = aim.reveal.shortest(at, aim.reveal.follow(state, walk))
        if ways:
            walk = walk + list(ways)
        elif prefix:
            return _completed(aim, [])
        else:
            first = list(aim.reveal.shortest(0, state))
            return first + _rest(aim, first)
    return walk


def _rest(aim: Aim, first: list[Way]) -> list[Way]:
    """What completes a walk that must begin so; raises InterlockError where that cannot be done in one go."""
    walk = list(first)
    while missing := aim.missing(walk):
        walk += _nearest(aim.walkway, walk[-1].target, missing)
    for fault in aim.hidden(walk):
        ways = aim.reveal.shortest(walk[-1].target, aim.reveal.follow(aim.reveal.start(fault), walk))
        if not ways:
            name = aim.reveal.chain.faults[fault].id
            raise InterlockError(
                f"fault '{name}' can be shown, but not in one test with the others; exclude it"
            )
        walk += ways
    return walk[len(first) :]


def _nearest(walkway: Walkway, start: int, missing: frozenset[Goal]) -> list[Way]:
    """The cheapest ways from a place to the first that reaches a missing goal."""
    best: dict[int, tuple[int, Way | None]] = {start: (0, None)}
    queue: list[tuple[int, int, int]] = [(0, start, -1)]
    while queue:
        cost, at, last = heapq.heappop(queue)
        if last >= 0 and walkway.ways[last].goals & missing:
            return [*_to(best, start, walkway.ways[last].source), walkway.ways[last]]
        if last >= 0 and at != start and best[at][1] is not walkway.ways[last]:
            continue
        for way in walkway.leaving[at]:
            after = cost + way.cost
            if way.goals & missing:
                heapq.heappush(queue, (after, way.target, way.number))
            elif way.target not in best or after < best[way.target][0]:
                best[way.target] = (after, way)
                heapq.heappush(queue, (after, way.target, way.number))
    names = ", ".join(sorted(goal.id for goal in missing))
    raise InterlockError(
        f"no way leads on to {names}: the bench cannot be brought back to where they can be tested"
    )


def _to(best: dict[int, tuple[int, Way | None]], start: int, at: int) -> list[Way]:
    ways: list[Way] = []
    while at != start and (way := best[at][1]) is not None:
        ways.append(way)
        at = way.source
    return ways[::-1]


def _improved(aim: Aim, walk: list[Way], rng: np.random.Generator, tries: int = _TRIES) -> list[Way]:
    """The walk without round trips, or with shorter ways between two of its places, as long as it stays complete."""
    for _ in range(tries):
        if len(walk) < 3:
            break
        low, high = sorted(rng.choice(len(walk) + 1, 2, replace=False).tolist())
        places = [0, *(way.target for way in walk)]
        short = _straight(aim.walkway, places[low], {places[high]}) if high < len(walk) else []
        if short is None or _cost(short) >= _cost(walk[low:high]):
            continue
        tried = [*walk[:low], *short, *walk[high:]]
        if aim.done(tried):
            walk = tried
    return walk


def _straight(walkway: Walkway, start: int, ends: Set[int]) -> list[Way] | None:
    """The cheapest ways from a place to the first of these; None if no way leads there."""
    best: dict[int, tuple[int, Way | None]] = {start: (0, None)}
    queue = [(0, start)]
    while queue:
        cost, at = heapq.heappop(queue)
        if at in ends:
            return _to(best, start, at)
        if cost > best[at][0]:
            continue
        for way in walkway.leaving[at]:
            if way.target not in best or cost + way.cost < best[way.target][0]:
                best[way.target] = (cost + way.cost, way)
                heapq.heappush(queue, (cost + way.cost, way.target))
    return None
