"""All that a person may do in a proof test, as a small graph: places, and ways between them with their costs."""

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass

from interlock.bench import Bench, kinds_of
from interlock.errors import InterlockError
from interlock.procedure.features import Features
from interlock.procedure.goals import IDLE, Goal, GoalKind, Goals, Trial
from interlock.procedure.moves import Move, Table

__all__ = ["Place", "Walkway", "Way", "walkway"]

Place = tuple[int, Trial]
"""A state of the sound bench at rest, and the trial under way."""
_LIMIT = 20_000


@dataclass(frozen=True, slots=True)
class Way:
    """One move from one place to the next."""

    number: int
    move: int
    source: int
    target: int
    cost: int
    goals: frozenset[Goal]


@dataclass(frozen=True, slots=True)
class Walkway:
    """Places by number, power-up first; ways from each."""

    places: tuple[Place, ...]
    ways: tuple[Way, ...]
    leaving: tuple[tuple[Way, ...], ...]
    ends: frozenset[int]  # places where a walk may end: every stop is over, or nothing ends it any more


def walkway(
    bench: Bench, features: Features, moves: tuple[Move, ...], table: Table, costs: Mapping[str, int]
) -> Walkway:
    """Every place that lawful moves lead to; raises InterlockError beyond 20,000 places.

    A guard that is locked until all is at rest cannot be asked to stop anything: its trial may begin there.
    """
    kinds = kinds_of(bench)
    locked = {
        name
        for name, one in bench.required.functions.items()
        if kinds[bench.devices[one.demand].kind].locked_at_first
    }
    found = _walked(bench, features, moves, table, costs, Goals(bench, features))
    met = {goal.function for way in found.ways for goal in way.goals if goal.kind is GoalKind.STOP}
    if locked <= met:
        return found
    return _walked(bench, features, moves, table, costs, Goals(bench, features, locked - met))


def _walked(
    bench: Bench,
    features: Features,
    moves: tuple[Move, ...],
    table: Table,
    costs: Mapping[str, int],
    goals: Goals,
) -> Walkway:
    numbers: dict[Place, int] = {(int(table.rest[0]), IDLE): 0}
    places, ways, leaving = list(numbers), list[Way](), list[tuple[Way, ...]]()
    for place in places:  # grows while it is walked
        state, trial = place
        here: list[Way] = []
        for row, move in enumerate(moves):
            after = int(table.target[row, state])
            if not table.possible[row, state] or not goals.lawful(move, state, after):
                continue
            next_trial, reached = goals.step(trial, state, after)
            to = (after, next_trial)
            if to not in numbers:
                numbers[to] = len(places)
                places.append(to)
            cost = _cost(bench, features, costs, move, state, after)
            here.append(
                Way(len(ways) + len(here), row, numbers[place], numbers[to], cost, frozenset(reached))
            )
        ways += here
        leaving.append(tuple(here))
        if len(places) > _LIMIT:
            raise InterlockError(f"bench '{bench.bench.id}': more than {_LIMIT:,} places to plan over")
    ready = {n for n, (state, _) in enumerate(places) if features.left_ready(bench, state)}
    ends = ready | (set(range(len(places))) - _leading_to(ready, ways))
    return Walkway(tuple(places), tuple(ways), tuple(leaving), frozenset(ends))


def _leading_to(places: Set[int], ways: Iterable[Way]) -> set[int]:
    """These places, and all from which ways lead to one of them."""
    entering: dict[int, list[int]] = {}
    for way in ways:
        entering.setdefault(way.target, []).append(way.source)
    met, waiting = set(places), list(places)
    while waiting:
        for source in entering.get(waiting.pop(), ()):
            if source not in met:
                met.add(source)
                waiting.append(source)
    return met


def _cost(
    bench: Bench, features: Features, costs: Mapping[str, int], move: Move, before: int, after: int
) -> int:
    own = [costs[name] for act in move.orders[0] if (name := f"{move.device}.{act}") in costs]
    if own:
        return max(own)
    load = "_under_load" if features.under_load(before) else ""
    rising = [name for name, one in features.demand.items() if one[after] and not one[before]]
    for name in rising:
        function = bench.required.functions[name]
        if function.supply is not None or "contactor_open" in function.effects:
            return costs[f"supply_stop{load}"]
    supply_on = {one.supply.on_by for one in bench.required.functions.values() if one.supply is not None}
    if move.device in supply_on and len(move.orders[0]) == 1 and features.pressed[move.device][after]:
        return costs["supply_on"]
    if len(move.orders) > 1:
        return costs[f"guard{load if rising else ''}"]
    return costs["stop_under_load"] if rising and load else costs["act"]
