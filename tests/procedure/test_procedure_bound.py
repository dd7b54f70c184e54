"""The lower bound is never above the cheapest complete walk, found here by plain search over all of them."""

import heapq
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.procedure.bound import least_flow
from interlock.procedure.goals import IDLE
from interlock.procedure.walk import euler
from interlock.procedure.walkway import Walkway, Way


def graph(ways: list[tuple[int, int, int]], places: int, ends: frozenset[int] | None = None) -> Walkway:
    """A walkway of ways given as source, target, cost; it may end anywhere if no ends are given."""
    made = tuple(
        Way(n, 0, source, target, cost, frozenset()) for n, (source, target, cost) in enumerate(ways)
    )
    leaving = tuple(tuple(way for way in made if way.source == place) for place in range(places))
    return Walkway(
        tuple((place, IDLE) for place in range(places)), made, leaving, ends or frozenset(range(places))
    )


def cheapest(walkway: Walkway, needs: list[set[int]]) -> int | None:
    """Least cost of a walk from place 0 that meets every need and ends where it may: Dijkstra over both."""
    done, whole = set[tuple[int, int]](), (1 << len(needs)) - 1
    queue = [(0, 0, 0)]
    while queue:
        cost, at, met = heapq.heappop(queue)
        if met == whole and at in walkway.ends:
            return cost
        if (at, met) in done:
            continue
        done.add((at, met))
        for way in walkway.leaving[at]:
            now = met | sum(1 << n for n, need in enumerate(needs) if way.number in need)
            heapq.heappush(queue, (cost + way.cost, way.target, now))
    return None


@st.composite
def problems(draw: st.DrawFn) -> tuple[Walkway, list[set[int]]]:
    places = draw(st.integers(2, 6))
    place = st.integers(0, places - 1)
    ways = draw(st.lists(st.tuples(place, place, st.integers(1, 9)), min_size=2, max_size=14))
    needs = draw(
        st.lists(st.sets(st.integers(0, len(ways) - 1), min_size=1, max_size=3), min_size=1, max_size=4)
    )
    ends = draw(st.frozensets(place, min_size=1))
    return graph(ways, places, ends), needs


@settings(max_examples=60, deadline=None)
@given(problems())
def test_the_bound_is_never_above_the_cheapest_walk(problem: tuple[Walkway, list[set[int]]]) -> None:
    walkway, needs = problem
    least = cheapest(walkway, needs)
    if least is not None:
        assert least_flow(walkway, needs).bound <= least


@settings(max_examples=40, deadline=None)
@given(problems())
def test_a_flow_that_is_a_complete_walk_costs_the_bound(problem: tuple[Walkway, list[set[int]]]) -> None:
    walkway, needs = problem
    if cheapest(walkway, needs) is None:
        return
    flow = least_flow(walkway, needs)
    walk = euler(walkway, flow.times)
    met = all(any(way.number in need for way in walk) for need in needs)
    ended = (walk[-1].target if walk else 0) in walkway.ends
    if met and ended and len(walk) == sum(flow.times):
        assert sum(way.cost for way in walk) == flow.bound == cheapest(walkway, needs)


def test_there_and_back_costs_both_ways() -> None:
    # one place in the middle, two dead ends with a way back each: worked by hand, 2 + 2 + 3
    walkway = graph([(0, 1, 2), (1, 0, 2), (0, 2, 3), (2, 0, 3)], 3)
    assert least_flow(walkway, [{0}, {2}]).bound == 7


def test_the_way_back_to_an_end_is_paid_for() -> None:
    # two dead ends that both cost 2 to reach; only the middle is an end: one more way back of 5 or of 1
    walkway = graph([(0, 1, 2), (1, 0, 5), (0, 2, 2), (2, 0, 1)], 3, frozenset({0}))
    assert least_flow(walkway, [{0}]).bound == 7
    assert least_flow(walkway, [{2}]).bound == 3
    assert least_flow(walkway, [{0}, {2}]).bound == 10


def test_a_round_trip_far_from_power_up_is_tied_to_it() -> None:
    # the need lies on a ring 2-3-2 that costs 2; the way to it costs 10, which a loose flow would not pay
    walkway = graph([(0, 1, 5), (1, 2, 5), (2, 3, 1), (3, 2, 1)], 4)
    assert least_flow(walkway, [{2}]).bound == 11


def test_nothing_needed_costs_nothing() -> None:
    assert least_flow(graph([(0, 1, 4)], 2), []).bound == 0


@pytest.mark.parametrize(
    ("times", "walked"),
    [((1, 1, 1, 0), [0, 1, 2]), ((2, 2, 0, 0), [0, 0, 1, 1]), ((0, 0, 0, 5), [])],
    ids=["once each", "twice round", "what does not hang together is left out"],
)
def test_euler_takes_each_way_as_often_as_told(times: tuple[int, ...], walked: list[int]) -> None:
    walkway = graph([(0, 1, 1), (1, 0, 1), (0, 2, 1), (3, 3, 1)], 4)
    found = euler(walkway, times)
    assert sorted(way.number for way in found) == walked
    assert all(one.target == after.source for one, after in pairwise(found))
