"""A walk is completed and improved without ever losing a goal or a fault; held against search over everything."""

import heapq
from dataclasses import replace

import numpy as np
import pytest
import yaml
from plan_benches import ROOT, WRONG

from interlock.bench import parse_bench
from interlock.procedure.bound import Flow, least_flow
from interlock.procedure.costs import costs_of
from interlock.procedure.faulted import faulted
from interlock.procedure.features import features_of
from interlock.procedure.goals import goals_of
from interlock.procedure.moves import moves_of, table_of
from interlock.procedure.reveal import Reveal
from interlock.procedure.walk import Aim, cheapest_walk
from interlock.procedure.walkway import Walkway, Way


@pytest.fixture(scope="module")
def aim() -> Aim:
    """A rig with two functions and no supply rule."""
    from interlock.procedure.walkway import walkway

    data = yaml.safe_load((ROOT / WRONG / "30_power_button_resets.yaml").read_text("utf-8"))
    data.pop("shows", None)
    del data["required"]["functions"]["emergency_off"]
    bench = parse_bench("rig.yaml", yaml.safe_dump(data, sort_keys=False))
    chain, moves = faulted(bench), moves_of(bench)
    table = table_of(chain.graph, chain.faulty.chain.events, moves, 0)
    features = features_of(bench, chain, table.rest)
    paths = walkway(bench, features, moves, table, costs_of())
    reveal = Reveal(chain, features, table, paths)
    where = [reveal.where(fault) for fault in range(len(chain.faults))]
    shown = tuple(fault for fault, ways in enumerate(where) if ways is None or ways)
    reached = {goal for way in paths.ways for goal in way.goals}
    return Aim(frozenset(goal for goal in goals_of(bench) if goal in reached), shown, reveal)


def needs_of(aim: Aim) -> list[list[int]]:
    order = sorted(aim.goals, key=lambda goal: goal.id)
    return [[way.number for way in aim.walkway.ways if goal in way.goals] for goal in order]


def connected(walk: tuple[Way, ...]) -> bool:
    at = 0
    for way in walk:
        if way.source != at:
            return False
        at = way.target
    return True


def exact(walkway: Walkway, needs: list[list[int]]) -> int:
    """The cost of the cheapest walk that meets every need: Dijkstra over place and needs met, over all of them."""
    bits = dict.fromkeys(range(len(walkway.ways)), 0)
    for number, need in enumerate(needs):
        for way in need:
            bits[way] |= 1 << number
    best, queue, whole = {(0, 0): 0}, [(0, 0, 0)], (1 << len(needs)) - 1
    while queue:
        cost, at, met = heapq.heappop(queue)
        if met == whole:
            return cost
        if cost > best[at, met]:
            continue
        for way in walkway.leaving[at]:
            to = (way.target, met | bits[way.number])
            if cost + way.cost < best.get(to, 1 << 30):
                best[to] = cost + way.cost
                heapq.heappush(queue, (cost + way.cost, *to))
    raise AssertionError("no walk meets every need")


def test_the_bound_without_faults_is_the_exact_optimum(aim: Aim) -> None:
    flow = least_flow(aim.walkway, needs_of(aim))
    least = exact(aim.walkway, needs_of(aim))
    assert flow.bound <= least
    alone = replace(aim, faults=())
    walk = cheapest_walk(alone, flow, np.random.default_rng(0))
    assert sum(way.cost for way in walk) == least


def test_a_walk_without_any_flow_is_complete_too(aim: Aim) -> None:
    walk = cheapest_walk(aim, Flow(0, (0,) * len(aim.walkway.ways)), np.random.default_rng(0))
    assert aim.done(walk)
    assert connected(walk)


@pytest.mark.parametrize("seed", range(3))
def test_whatever_the_generator_the_walk_is_complete_and_no_cheaper_than_the_bound(
    aim: Aim, seed: int
) -> None:
    flow = least_flow(aim.walkway, needs_of(aim))
    walk = cheapest_walk(aim, flow, np.random.default_rng(seed))
    assert aim.done(walk)
    assert connected(walk)
    assert sum(way.cost for way in walk) >= flow.bound


def test_an_empty_walk_misses_everything_but_what_power_up_shows(aim: Aim) -> None:
    assert aim.missing(()) == aim.goals
    hidden = aim.hidden(())
    names = {aim.reveal.chain.faults[fault].id for fault in set(aim.faults) - set(hidden)}
    assert all(
        "stays_open" in name or "stays_pressed" in name or "short" in name or "closed" in name
        for name in names
    )


def test_leaving_out_the_last_way_leaves_something_out(aim: Aim) -> None:
    flow = least_flow(aim.walkway, needs_of(aim))
    walk = cheapest_walk(aim, flow, np.random.default_rng(0))
    assert not aim.done(walk[:-1])


def test_where_a_fault_shows_is_where_the_shortest_way_to_it_ends(aim: Aim) -> None:
    for fault in aim.faults:
        where = aim.reveal.where(fault)
        if where is not None:
            ways = aim.reveal.shortest(0, aim.reveal.start(fault))
            assert ways[-1].number in where


def test_faults_that_never_show_have_no_way_at_all(aim: Aim) -> None:
    for fault in set(range(len(aim.reveal.chain.faults))) - set(aim.faults):
        assert aim.reveal.where(fault) == frozenset()
        assert aim.reveal.shortest(0, aim.reveal.start(fault)) == ()
