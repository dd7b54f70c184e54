"""The lower bound is never above the cheapest complete walk, found here by plain search over all of them."""

import heapq

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.procedure.bound import FAR, PARTS, cheapest_on, left_over
from interlock.procedure.goals import IDLE
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


def cheapest(walkway: Walkway, needs: list[set[int]], start: int = 0, had: int = 0) -> int | None:
    """Least cost of a walk from there that meets every need not had, and ends where it may: Dijkstra over both."""
    done, whole = set[tuple[int, int]](), (1 << len(needs)) - 1
    queue = [(0, start, had)]
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
        assert left_over(walkway, needs).bound <= least


@settings(max_examples=40, deadline=None)
@given(problems(), st.integers(0, 15))
def test_what_is_left_is_never_more_than_the_cheapest_way_on(
    problem: tuple[Walkway, list[set[int]]], had: int
) -> None:
    """From every place, whichever needs were met before."""
    walkway, needs = problem
    left, had = left_over(walkway, needs), had & ((1 << len(needs)) - 1)
    owed = sum(price for n, price in enumerate(left.prices) if not had >> n & 1)
    for place in range(len(walkway.places)):
        least = cheapest(walkway, needs, place, had)
        if least is not None:
            assert owed + left.onward[place] <= least * PARTS


@settings(max_examples=40, deadline=None)
@given(problems(), st.integers(0, 15))
def test_no_way_makes_what_is_left_fall_by_more_than_it_costs(
    problem: tuple[Walkway, list[set[int]]], had: int
) -> None:
    """So the search need never think again about a total that it has passed."""
    walkway, needs = problem
    left = left_over(walkway, needs)
    for way in walkway.ways:
        met = sum(p for n, p in enumerate(left.prices) if way.number in needs[n] and not had >> n & 1)
        if left.onward[way.target] < FAR:
            assert left.onward[way.source] + met <= way.cost * PARTS + left.onward[way.target]


def test_there_and_back_costs_both_ways() -> None:
    # one place in the middle, two dead ends with a way back each: worked by hand, 2 + 2 + 3
    walkway = graph([(0, 1, 2), (1, 0, 2), (0, 2, 3), (2, 0, 3)], 3)
    assert left_over(walkway, [{0}, {2}]).bound == 7


def test_the_way_back_to_an_end_is_paid_for() -> None:
    # two dead ends that both cost 2 to reach; only the middle is an end: one more way back of 5 or of 1
    walkway = graph([(0, 1, 2), (1, 0, 5), (0, 2, 2), (2, 0, 1)], 3, frozenset({0}))
    assert left_over(walkway, [{0}]).bound == 7
    assert left_over(walkway, [{2}]).bound == 3
    assert left_over(walkway, [{0}, {2}]).bound == 10


def test_nothing_needed_costs_nothing() -> None:
    assert left_over(graph([(0, 1, 4)], 2), []).bound == 0


def test_needs_that_no_walk_can_meet_together_leave_the_bound_at_nothing() -> None:
    # two dead ends without a way back: there is no flow, and so no price; the search is to say what cannot be done
    assert left_over(graph([(0, 1, 4), (0, 2, 4)], 3), [{0}, {1}]).bound == 0


@pytest.mark.parametrize(
    ("ways", "last", "best"),
    [
        ([(0, 1, 3), (1, 2, -1)], [FAR, FAR, 0], [2, -1, 0]),
        ([(0, 1, 3), (0, 2, 1)], [9, 4, 7], [7, 4, 7]),
        ([(0, 1, 2), (1, 0, -2)], [FAR, 5, 0], [7, 5, 0]),
        ([(0, 1, 2), (1, 0, -3)], [FAR, 5, 0], None),
        ([(0, 0, 1)], [FAR], [FAR]),
        ([], [4], [4]),
    ],
    ids=["in a row", "no further", "round for nothing", "round for less than nothing", "nowhere", "no ways"],
)
def test_the_cheapest_way_on(
    ways: list[tuple[int, int, int]], last: list[int], best: list[int] | None
) -> None:
    source, target, cost = zip(*ways, strict=True) if ways else ((), (), ())
    assert cheapest_on(last, source, target, cost) == best


@settings(max_examples=40, deadline=None)
@given(problems())
def test_the_way_on_is_that_of_plain_search(problem: tuple[Walkway, list[set[int]]]) -> None:
    walkway, _ = problem
    ends = [0 if place in walkway.ends else FAR for place in range(len(walkway.places))]
    ways = [(way.source, way.target, way.cost) for way in walkway.ways]
    found = cheapest_on(ends, *zip(*ways, strict=True))
    assert found is not None
    for place, cost in enumerate(found):
        assert cheapest(walkway, [], place) == (cost if cost < FAR else None)
