"""A ramp against a timer, played with a stopwatch: after the demand nobody acts, and each delay lasts as stated."""

from collections import deque
from typing import Protocol

from chain_naive import Judge, State, World


class Player(Protocol):
    """Whose bench is played."""

    world: World

    def torque(self, state: State, unit: str) -> bool: ...
    def brakes(self, state: State, unit: str) -> bool: ...


def soonest_cut_short(judge: Judge, function: str, unit: str) -> int | None:
    """Steps from power-up until something takes the unit's torque before its ramp has ended; None: nothing does."""
    steps, todo, best = {judge.world.start: 0}, deque([judge.world.start]), None
    while todo:
        was = todo.popleft()
        for move in judge.world.moves(was):
            began = judge.brakes(move.after, unit) and not judge.brakes(was, unit)
            if began and function in judge.demands(move.after):
                more = played(judge, move.after, unit)
                if more is not None and (best is None or steps[was] + 1 + more < best):
                    best = steps[was] + 1 + more
            if move.after not in steps:
                steps[move.after] = steps[was] + 1
                todo.append(move.after)
    return best


def played(judge: Player, state: State, unit: str, *, anyhow: bool = False) -> int | None:
    """How many late reactions come until the torque is cut off; None: the ramp ends first, or has no end of its own.

    `anyhow`: until the torque goes, by whatever.
    """
    clock, started = 0, {}
    for count in range(1, 60):
        late = [move for move in judge.world.moves(state) if move.delay_ns is not None]
        started = {one: started.get(one, clock) for one in ((move.device, move.trigger) for move in late)}
        if not late:
            return None

        def when(move, since=started) -> tuple[int, bool, str, str]:
            name = move.device, move.trigger
            return since[name] + move.delay_ns, move.device != unit, *name

        next_ = min(late, key=when)
        clock = when(next_)[0]
        goes = judge.torque(state, unit) and not judge.torque(next_.after, unit)
        ramp_goes_on = judge.brakes(state, unit) and any(move.device == unit for move in late)
        if goes and (anyhow or (ramp_goes_on and next_.device != unit)):
            return count
        started.pop((next_.device, next_.trigger))
        state = next_.after
    return None
