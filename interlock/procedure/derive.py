"""The proof test of a bench, derived from its chain: cheap, complete, and with a proof of how cheap it could be."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from interlock.bench import Bench
from interlock.chain.fault_list import excluded
from interlock.chain.layout import TooWide
from interlock.chain.loops import as_bench_error
from interlock.chain.reference import WiringLoop
from interlock.errors import InterlockError
from interlock.procedure.alike import alike
from interlock.procedure.costs import SOURCE, costs_of
from interlock.procedure.dark import dark
from interlock.procedure.faulted import FAULT, SOUND, Faulted, faulted
from interlock.procedure.features import Features, features_of
from interlock.procedure.goals import Goal, GoalKind, goals_of
from interlock.procedure.guards import guards_to_time
from interlock.procedure.moves import Move, Table, moves_of, table_of
from interlock.procedure.plan import Dark, Plan, PlanStep
from interlock.procedure.reveal import Beside, first_shown
from interlock.procedure.walk import Aim, cheapest_walk
from interlock.procedure.walkway import Walkway, Way, walkway
from interlock.procedure.words import changed, hold_words, observed, start_words, unchanged, wait_s

__all__ = ["derive"]


def derive(
    bench: Bench,
    *,
    costs: Mapping[str, int] | None = None,
    file: Path | None = None,
) -> Plan:
    """The plan; the same bench and costs give the same plan.

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
    shown, to_show = _shown(ground)
    found = cheapest_walk(Aim(ground.beside, tuple(wanted), to_show))
    first = first_shown(ground.chain, ground.features, ground.tables, [way.move for way in found.walk])
    return Plan(
        bench.bench.id,
        bench.bench.name,
        found.cost,
        found.bound,
        weights,
        _source(bench, costs),
        (_power_up(ground, first), *_steps(ground, found.walk, first)),
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
    beside: Beside

    @property
    def walkway(self) -> Walkway:
        return self.beside.walkway

    def devices(self, place: int) -> dict[str, str]:
        found = self.chain.graph.unpack(self.walkway.places[place][0])
        return {name: found[name] for name in self.bench.devices}


def _ground(bench: Bench, weights: Mapping[str, int]) -> _Ground:
    chain, moves = faulted(bench), moves_of(bench)
    tables = tuple(table_of(chain.graph, chain.faulty.chain.events, moves, order) for order in (0, -1))
    features = features_of(bench, chain, tables[0].rest)
    classes = alike(tables[0], tables[0].rest[chain.first], features.seen)
    paths = walkway(bench, features, moves, tables[0], weights)
    return _Ground(bench, chain, features, moves, tables, Beside(paths, classes))


def _shown(ground: _Ground) -> tuple[list[bool], dict[int, str]]:
    """Whether each fault can show; and of those that do not show at power-up a name for each class that can."""
    beside, faults = ground.beside, ground.chain.faults
    begins = [int(beside.alike.of[state]) for state in ground.tables[0].rest[ground.chain.first[1:]]]
    at_once = {one for one in begins if beside.shows(0, one)}
    in_time = {one for one in begins if one not in at_once and beside.where(one)}
    names = {one: fault.id for one, fault in zip(begins, faults, strict=True) if one in in_time}
    return [one in at_once | in_time for one in begins], names


def _power_up(ground: _Ground, first: Mapping[str, int]) -> PlanStep:
    act = "Switch the control on, the main supply still off: guards closed, stop devices released, no button pressed"
    seen = ("nothing starts", *start_words(ground.bench, ground.devices(0)))
    return PlanStep(1, act, "", (), seen, 1, 0, (), tuple(one for one, at in first.items() if at == 0))


def _steps(ground: _Ground, walk: Sequence[Way], first: Mapping[str, int]) -> Iterator[PlanStep]:
    """Each is watched until the sound bench is at rest, and one with a fault that is first to show here."""
    table = ground.tables[0]
    at = table.rest[ground.chain.first]
    for count, way in enumerate(walk, 1):
        shown = [n for n, fault in enumerate(ground.chain.faults) if first.get(fault.id) == count]
        late_ns = int(table.takes_ns[way.move, at[[0, *(n + 1 for n in shown)]]].max())
        reveals = tuple(ground.chain.faults[n].id for n in shown)
        yield _step(ground, way, count + 1, reveals, late_ns)
        at = table.target[way.move, at]


def _step(ground: _Ground, way: Way, number: int, reveals: tuple[str, ...], late_ns: int) -> PlanStep:
    move, goals = ground.moves[way.move], _ordered(way.goals)
    kinds = {goal.kind for goal in goals}
    before, after = (ground.walkway.places[place][0] for place in (way.source, way.target))
    states = (ground.devices(way.source), ground.devices(way.target))
    changes = changed(ground.bench, *states, move.device)
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
    wait = wait_s(ground.bench, goals, starts=starts, late_ns=late_ns)
    return PlanStep(
        number,
        hold_words(move.words, kinds, button=pressed, hold_s=wait),
        move.device,
        move.orders[0],
        tuple(dict.fromkeys(seen)) or (unchanged(ground.bench, states[1], move.device),),
        wait,
        way.cost,
        tuple(goal.id for goal in goals),
        reveals,
    )


def _ordered(goals: frozenset[Goal]) -> list[Goal]:
    return sorted(goals, key=lambda goal: (list(GoalKind).index(goal.kind), goal.id))


def _dark(ground: _Ground, first: Mapping[str, int], shown: Sequence[bool]) -> list[Dark]:
    """`shown`: of each fault, whether the walk shows it if contacts move in their first order."""
    return [
        dark(ground.bench, fault, by_order=by_order)
        for fault, by_order in zip(ground.chain.faults, shown, strict=True)
        if fault.id not in first
    ]
