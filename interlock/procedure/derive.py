"""The proof test of a bench, derived from its chain: cheap, complete, and with a proof of how cheap it could be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from interlock.bench import Bench
from interlock.chain.fault_list import excluded
from interlock.chain.layout import TooWide
from interlock.chain.loops import as_bench_error
from interlock.chain.reference import WiringLoop
from interlock.errors import InterlockError
from interlock.procedure.bound import least_flow
from interlock.procedure.costs import SOURCE, costs_of
from interlock.procedure.dark import dark
from interlock.procedure.faulted import FAULT, SOUND, Faulted, faulted
from interlock.procedure.features import Features, features_of
from interlock.procedure.goals import Goal, GoalKind, goals_of
from interlock.procedure.guards import guards_to_time
from interlock.procedure.moves import Move, Table, moves_of, table_of
from interlock.procedure.plan import Dark, Plan, PlanStep
from interlock.procedure.reveal import Reveal, first_shown
from interlock.procedure.walk import Aim, cheapest_walk
from interlock.procedure.walkway import Walkway, Way, walkway
from interlock.procedure.words import changed, hold_words, observed, start_words, wait_s

__all__ = ["derive"]


def derive(
    bench: Bench,
    *,
    costs: Mapping[str, int] | None = None,
    rng: np.random.Generator | None = None,
    file: Path | None = None,
) -> Plan:
    """The plan; the same bench, costs and generator state give the same plan.

    Costs not given are those of the bench's section `plan`, then the defaults of `interlock.procedure.costs`;
    `file` only gives errors their place. Raises InterlockError where the bench is too big, and BenchError for a
    wiring loop without a delay, or mistakes in the section `rating`.
    """
    by_hand = guards_to_time(bench, file)
    stated = {} if bench.plan is None else bench.plan.costs
    weights = costs_of({**stated, **(costs or {})})
    try:
        ground = _ground(bench, weights)
    except TooWide as wide:
        raise InterlockError(f"bench '{bench.bench.id}': {wide}; no procedure can be derived") from wide
    except WiringLoop as loop:
        raise _restless(bench, loop, file) from loop
    reached = {goal for way in ground.walkway.ways for goal in way.goals}
    goals = goals_of(bench, sorted({goal.situation for goal in reached if goal.kind is GoalKind.STOP}))
    wanted = [goal for goal in goals if goal in reached]
    where = [ground.reveal.where(fault) for fault in range(len(ground.chain.faults))]
    needs = [[way.number for way in ground.walkway.ways if goal in way.goals] for goal in wanted]
    flow = least_flow(ground.walkway, [*needs, *(sorted(one) for one in where if one)])
    shown = tuple(fault for fault, ways in enumerate(where) if ways is None or ways)
    aim = Aim(frozenset(wanted), shown, ground.reveal)
    walk = cheapest_walk(aim, flow, np.random.default_rng(0) if rng is None else rng)
    first = first_shown(ground.chain, ground.features, ground.tables, [way.move for way in walk])
    return Plan(
        bench.bench.id,
        bench.bench.name,
        sum(way.cost for way in walk),
        flow.bound,
        weights,
        _source(bench, costs),
        (_power_up(ground, first), *_steps(ground, walk, first)),
        tuple(_dark(ground, first, shown)),
        tuple(goal.id for goal in goals if goal not in reached),
        tuple(one.as_json() for one in excluded(bench)),
        by_hand,
    )


def _source(bench: Bench, costs: Mapping[str, int] | None) -> str:
    stated = [] if bench.plan is None else [f"by the bench: {bench.plan.source}"]
    given = [] if costs is None else ["as given for this plan"]
    return "; ".join([*given, *stated, f"otherwise: {SOURCE}" if given or stated else SOURCE])


def _restless(bench: Bench, loop: WiringLoop, file: Path | None) -> InterlockError:
    fault = loop.state.get(FAULT, SOUND)
    if fault == SOUND:
        return as_bench_error(bench, loop, file)
    names = ", ".join(bench.devices[one].name for one in sorted(loop.devices))
    keep = "keep changing each other" if len(loop.devices) > 1 else "keeps changing by itself"
    why = f"{names} {keep} at once and for ever"
    return InterlockError(
        f"with fault '{fault}' {why}; put a device with a delay between, or exclude the fault"
    )


@dataclass(frozen=True, slots=True)
class _Ground:
    bench: Bench
    chain: Faulted
    features: Features
    moves: tuple[Move, ...]
    tables: tuple[Table, ...]
    walkway: Walkway

    @property
    def reveal(self) -> Reveal:
        return Reveal(self.chain, self.features, self.tables[0], self.walkway)

    def devices(self, place: int) -> dict[str, str]:
        found = self.chain.graph.unpack(self.walkway.places[place][0])
        return {name: found[name] for name in self.bench.devices}


def _ground(bench: Bench, weights: Mapping[str, int]) -> _Ground:
    chain, moves = faulted(bench), moves_of(bench)
    tables = tuple(table_of(chain.graph, chain.faulty.chain.events, moves, order) for order in (0, -1))
    features = features_of(bench, chain, tables[0].rest)
    return _Ground(bench, chain, features, moves, tables, walkway(bench, features, moves, tables[0], weights))


def _power_up(ground: _Ground, first: Mapping[str, int]) -> PlanStep:
    act = "Switch the control on, the main supply still off: guards closed, stop devices released, no button pressed"
    seen = ("nothing starts", *start_words(ground.bench, ground.devices(0)))
    return PlanStep(1, act, "", (), seen, 1, 0, (), tuple(one for one, at in first.items() if at == 0))


def _steps(ground: _Ground, walk: Sequence[Way], first: Mapping[str, int]) -> list[PlanStep]:
    return [
        _step(ground, way, count + 1, tuple(one for one, at in first.items() if at == count))
        for count, way in enumerate(walk, 1)
    ]


def _step(ground: _Ground, way: Way, number: int, reveals: tuple[str, ...]) -> PlanStep:
    move, goals = ground.moves[way.move], _ordered(way.goals)
    kinds = {goal.kind for goal in goals}
    before, after = (ground.walkway.places[place][0] for place in (way.source, way.target))
    changes = changed(ground.bench, ground.devices(way.source), ground.devices(way.target), move.device)
    button = ground.features.pressed.get(move.device)
    pressed = button is not None and bool(button[after] and not button[before])
    starts = any(one[after] and not one[before] for one in ground.features.torque.values())
    at_rest = not ground.features.running(before)
    seen = [text for goal in goals for text in observed(ground.bench, goal, at_rest=at_rest)]
    if not kinds & {GoalKind.STOP, GoalKind.RESET_BARRED, GoalKind.PRESS}:
        seen += changes
    seen += (
        ["the shaft turns at test speed and test torque before the next step"]
        if ground.features.running(after) and starts
        else []
    )
    return PlanStep(
        number,
        hold_words(move.words, kinds, button=pressed),
        move.device,
        move.orders[0],
        tuple(seen) or ("nothing else changes",),
        wait_s(ground.bench, goals, starts=starts, late_ns=int(ground.tables[0].takes_ns[way.move, before])),
        way.cost,
        tuple(goal.id for goal in goals),
        reveals,
    )


def _ordered(goals: frozenset[Goal]) -> list[Goal]:
    return sorted(goals, key=lambda goal: list(GoalKind).index(goal.kind))


def _dark(ground: _Ground, first: Mapping[str, int], shown: Sequence[int]) -> list[Dark]:
    return [
        dark(ground.bench, fault, by_order=number in shown)
        for number, fault in enumerate(ground.chain.faults)
        if fault.id not in first
    ]
