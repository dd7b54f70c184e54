"""The second opinion on guards that a timer frees: a walk with a clock that ticks.

Time goes in ticks of a second. A late reaction may come at any tick from when it is due up to its delay, and must have
come by then; a timer comes at its delay and no sooner. People may act between any two ticks. Written from the words of
the description alone; it knows nothing of products, of waits that are proved together, or of run-downs.
"""

from collections import deque

from chain_naive import State, World

from interlock.bench import Bench

_SECOND = 10**9
Ages = frozenset[tuple[tuple[str, str], int]]
"""How many ticks each late reaction has been due."""


class TickingWorld:
    """A bench whose timers, named by device, come exactly when their time is over."""

    def __init__(self, bench: Bench, timers: set[str], guard: str, shaft: str) -> None:
        self.world, self.timers, self.guard, self.shaft = World(bench), timers, guard, shaft
        self.units = bench.required.effects.torque_off.of

    def frees_a_turning_shaft(self) -> bool:
        """Some way leads to the guard being freed while the shaft turns."""
        start = (self.world.start, self._ages(self.world.start, {}))
        met, todo = {start}, deque([start])
        while todo:
            state, ages = todo.popleft()
            for after, then in self._next(state, dict(ages)):
                if self._turns(state) and self._locked(state) and not self._locked(after):
                    return True
                if (after, then) not in met:
                    met.add((after, then))
                    todo.append((after, then))
        return False

    def _next(self, state: State, ages: dict[tuple[str, str], int]) -> list[tuple[State, Ages]]:
        found, patient = [], True
        for move in self.world.moves(state):
            if move.delay_ns is None:
                found.append((move.after, self._ages(move.after, ages)))
                continue
            one, ticks = (move.device, move.trigger), move.delay_ns // _SECOND
            patient &= ages[one] < ticks
            if ages[one] >= ticks or move.device not in self.timers:
                others = {name: age for name, age in ages.items() if name != one}
                found.append((move.after, self._ages(move.after, others)))
        if patient and ages:
            found.append((state, frozenset((one, age + 1) for one, age in ages.items())))
        return found

    def _ages(self, state: State, before: dict[tuple[str, str], int]) -> Ages:
        due = [(move.device, move.trigger) for move in self.world.moves(state) if move.delay_ns is not None]
        return frozenset((one, before.get(one, 0)) for one in due)

    def _locked(self, state: State) -> bool:
        return self.world.values(state)[f"{self.guard}.locked"]

    def _turns(self, state: State) -> bool:
        values = self.world.values(state)
        return not values[f"{self.shaft}.still"] or any(values[f"{unit}.torque"] for unit in self.units)
