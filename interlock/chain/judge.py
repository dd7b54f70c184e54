"""Each property judged over all nodes: held, violated (where first), or never put to the test."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import reduce
from typing import assert_never

import numpy as np

from interlock.chain import ir
from interlock.chain.arrays import Truths
from interlock.chain.by_clock import by_clock
from interlock.chain.by_schedule import by_schedule
from interlock.chain.by_wait import held
from interlock.chain.lasting import backwards, lasting
from interlock.chain.property import CanReach, NeverLasts, NeverOnSchedule, NeverStep, Property
from interlock.chain.reach import Reached
from interlock.chain.watched import Watched
from interlock.verdict import Verdict

__all__ = ["Judged", "judge"]

Way = tuple[int, ...]
"""Edges from power-up on."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A property's verdict; the way to its violation and its culprits, the ways to its premises."""

    verdict: Verdict
    way: Way | None
    culprits: tuple[str, ...]
    premises: tuple[Way | None, ...]  # None: the situation does not occur
    too_late: bool = False  # a late reaction would end the violation, but may take longer than allowed
    again: bool = False  # within the same demand all was in order before
    seen: int | None = None  # situations; None: those of the product that was judged
    timed: bool = True  # False: what rests on the times of late reactions was not looked at to the end


def judge(
    watched: Watched,
    events: tuple[ir.Event, ...],
    one: Property,
    reached: Callable[[], Reached] | None = None,
) -> Judged:
    """A violation fails; without one, missing states are inconclusive and missing premises not observed.

    `reached` gives all states where the product does not hold all of them; it may still prove what states alone show.
    """
    premises = tuple(_first_edge(watched, watched.edges_where(premise.event)) for premise in one.premises)
    way, culprits = _violation(watched, events, one)
    if way is not None and isinstance(one.claim, NeverStep) and one.claim.timers:
        return _by_wait(watched, events, one, one.claim)
    if way is not None:
        return Judged(Verdict.FAIL, way, culprits, premises, _too_late(watched, events, one, way))
    late = by_clock(watched, events, one.claim) if isinstance(one.claim, NeverLasts) else None
    if late is not None and late.way is not None:
        slow = _too_late(watched, events, one, late.way)
        return Judged(Verdict.FAIL, late.way, late.culprits, premises, slow, late.again)
    if late is not None and not late.whole:
        return Judged(Verdict.INCONCLUSIVE, None, (), premises, timed=False)
    if not watched.whole:
        seen = _shown_by_states(watched, one, reached) if None not in premises else None
        return Judged(Verdict.INCONCLUSIVE if seen is None else Verdict.PASS, None, (), premises, seen=seen)
    return Judged(Verdict.NOT_OBSERVED if None in premises else Verdict.PASS, None, (), premises)


def _by_wait(watched: Watched, events: tuple[ir.Event, ...], one: Property, claim: NeverStep) -> Judged:
    """The same, timers taken to last as long as stated; told by the edges of the whole product."""
    if not watched.whole:
        return Judged(Verdict.INCONCLUSIVE, None, (), tuple(None for _ in one.premises), timed=False)
    found = held(watched, events, claim.timers)
    judged = judge(found.narrow.watched, events, replace(one, claim=NeverStep(claim.culprits)))
    way, *premises = (found.narrow.told(way) for way in (judged.way, *judged.premises))
    return replace(judged, way=way, premises=tuple(premises))


def _shown_by_states(watched: Watched, one: Property, reached: Callable[[], Reached] | None) -> int | None:
    """How many states prove that what must not last never even begins; None: they do not prove it."""
    if reached is None or not isinstance(one.claim, NeverLasts):
        return None
    bad, devices = ir.any_of(one.claim.culprits.values()), watched.graph.layout.places
    if not all(isinstance(atom, ir.Now) and atom.field in devices for atom in ir.atoms(bad)):
        return None
    found = reached()
    return None if found.shortfall or found.shows(bad) else found.states


def _violation(
    watched: Watched, events: tuple[ir.Event, ...], one: Property
) -> tuple[Way | None, tuple[str, ...]]:
    match one.claim:
        case NeverStep(culprits):
            edges = {name: watched.edges_where(term) for name, term in culprits.items()}
            at = _first(_either(edges))
            return (None, ()) if at is None else (watched.way_over(at), _guilty(edges, at))
        case NeverLasts(culprits, within_ns):
            nodes = {name: watched.nodes_where(term) for name, term in culprits.items()}
            nodes = {name: lasting(watched, events, bad, within_ns) for name, bad in nodes.items()}
            at = _first(_either(nodes))
            return (None, ()) if at is None else (watched.way_to(at), _guilty(nodes, at))
        case CanReach(goals, start, by):
            leading, spoken_of = np.flatnonzero(watched.edges_where(by)), watched.nodes_where(start)
            reached = {
                name: backwards(watched, watched.nodes_where(goal), leading) for name, goal in goals.items()
            }
            lost = {name: spoken_of & ~found for name, found in reached.items()}
            at = _first(_either(lost)) if watched.whole else None
            return (None, ()) if at is None else (watched.way_to(at), _guilty(lost, at))
        case NeverOnSchedule(culprits):
            way = by_schedule(watched, events, one.claim)
            edges = {name: watched.edges_where(term) for name, term in culprits.items()}
            return (None, ()) if way is None else (way, _guilty(edges, way[-1]))
        case _:
            assert_never(one.claim)


def _too_late(watched: Watched, events: tuple[ir.Event, ...], one: Property, way: Way) -> bool:
    """Whether the state at the end of the way would not last for ever."""
    if not isinstance(one.claim, NeverLasts):
        return False
    bad = watched.nodes_where(ir.any_of(one.claim.culprits.values()))
    return not lasting(watched, events, bad, None)[watched.end(way)]


def _first_edge(watched: Watched, where: Truths) -> Way | None:
    at = _first(where)
    return None if at is None else watched.way_over(at)


def _first(where: Truths) -> int | None:
    at = int(np.argmax(where)) if where.size else 0
    return at if where.size and where[at] else None


def _either(found: Mapping[str, Truths]) -> Truths:
    return reduce(np.logical_or, found.values())


def _guilty(found: Mapping[str, Truths], at: int) -> tuple[str, ...]:
    return tuple(name for name, where in found.items() if where[at])
