"""The clock of a demand under a fault set that stays as it is, kept move by move (see `chain_naive_clock`)."""

from collections.abc import Iterator
from heapq import heappop, heappush
from itertools import count
from typing import Any

Clock = frozenset[tuple[tuple[str, str], int]]
EVER: Clock = frozenset({(("nobody", "waits"), -1)})
"""The clock of a demand that has gone on for longer than the limit."""


def soonest_late(judge: Any, faults: frozenset[str], what: tuple[str, str]) -> int | None:
    """Steps to a moment of loss that may be later after the demand than the limit; None: there is none."""
    limit, turn = judge.within(what), count()
    waiting = [
        (steps, next(turn), node, _begins(judge, node, limit))
        for steps, node in _entries(judge, faults, what)
    ]
    waiting.sort()
    met = set()
    while waiting:
        steps, _, node, clock = heappop(waiting)
        if (node, clock) in met:
            continue
        met.add((node, clock))
        if clock == EVER and what in set(judge.lost(node)):
            return int(steps)
        for key, after in _moves(judge, node):
            if judge.timed(after, what) and not judge.anew(node, after, what):
                heappush(waiting, (steps + 1, next(turn), after, _goes_on(judge, clock, key, after, limit)))
    return None


def _entries(judge: Any, faults: frozenset[str], what: tuple[str, str]) -> Iterator[tuple[int, Any]]:
    """Each way into the demand: how many steps it takes, and where it leads."""
    for node, steps in judge.nodes.items():
        if steps == 0 and node.faults == faults and judge.timed(node, what):
            yield 0, node
        if node.faults <= faults:
            for after in judge.after(node):
                enters = not judge.timed(node, what) or judge.anew(node, after, what)
                if enters and after.faults == faults and judge.timed(after, what):
                    yield steps + 1, after


def _moves(judge: Any, node: Any) -> Iterator[tuple[tuple[str, str] | None, Any]]:
    """What happens next without another fault: the late reaction that it is (None: an act), and what follows."""
    for move in judge.world[node.faults].moves(node.state):
        after = type(node)(move.after, judge.note(node.state, node.notes, move.after), node.faults)
        yield (None if move.delay_ns is None else (move.device, move.trigger)), after


def _waiting(judge: Any, node: Any, limit: int) -> dict[tuple[str, str], int]:
    moves = judge.world[node.faults].moves(node.state)
    late = [move for move in moves if move.delay_ns is not None and move.delay_ns <= limit]
    return {(move.device, move.trigger): move.delay_ns for move in late}


def _begins(judge: Any, node: Any, limit: int) -> Clock:
    return _capped(_waiting(judge, node, limit), limit)


def _goes_on(judge: Any, clock: Clock, key: tuple[str, str] | None, after: Any, limit: int) -> Clock:
    if clock == EVER:
        return EVER
    ends = dict(clock)
    now = min(ends.values())
    ends.pop(key, None)
    return _capped(
        {one: ends.get(one, now + delay) for one, delay in _waiting(judge, after, limit).items()}, limit
    )


def _capped(ends: dict[tuple[str, str], int], limit: int) -> Clock:
    if min(ends.values(), default=limit + 1) > limit:
        return EVER
    return frozenset((one, min(end, limit + 1)) for one, end in ends.items())
