"""The cheapest walk, held against plain search over all that a person could do, on small random benches."""

import heapq
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.errors import InterlockError
from interlock.procedure import walk as module
from interlock.procedure.alike import Alike, alike
from interlock.procedure.goals import IDLE, Goal, GoalKind
from interlock.procedure.moves import Table
from interlock.procedure.reveal import Beside
from interlock.procedure.walk import Aim, Found, cheapest_walk
from interlock.procedure.walkway import Walkway, Way

GOALS = tuple(Goal(GoalKind.STOP, name) for name in ("door", "button", "mat"))


@dataclass(frozen=True)
class Small:
    """A bench as bare numbers: from each state each move leads to one; the sound bench begins in state 0."""

    target: list[list[int]]  # moves by states
    seen: list[int]
    cost: list[list[int]]  # moves by states
    goals: list[list[frozenset[Goal]]]  # moves by states
    faults: list[int]  # where a bench with a fault begins
    ends: frozenset[int]


@st.composite
def smalls(draw: st.DrawFn) -> Small:
    states, moves = draw(st.integers(2, 7)), draw(st.integers(1, 3))
    state = st.integers(0, states - 1)

    def rows(one: st.SearchStrategy[int]) -> list[list[int]]:
        return [draw(st.lists(one, min_size=states, max_size=states)) for _ in range(moves)]

    few = st.sampled_from([0, 0, 0, 0, 1, 2, 4, 3])
    return Small(
        rows(state),
        draw(st.lists(st.integers(0, 2), min_size=states, max_size=states)),
        rows(st.integers(1, 9)),
        [
            [frozenset(goal for n, goal in enumerate(GOALS) if bits >> n & 1) for bits in row]
            for row in rows(few)
        ],
        draw(st.lists(state, max_size=3)),
        draw(st.frozensets(state, min_size=1)),
    )


def walkway_of(small: Small) -> Walkway:
    """Places are what the moves lead to from state 0, each with every move."""
    places, ways, leaving = [0], list[Way](), list[tuple[Way, ...]]()
    for place in places:
        here = []
        for move, row in enumerate(small.target):
            if row[place] not in places:
                places.append(row[place])
            at, to = places.index(place), places.index(row[place])
            goals = small.goals[move][place]
            here.append(Way(len(ways) + len(here), move, at, to, small.cost[move][place], goals))
        ways += here
        leaving.append(tuple(here))
    ends = frozenset(n for n, place in enumerate(places) if place in small.ends)
    ends |= {
        n for n in range(len(places)) if not _leads(ways, n, ends)
    }  # as in a walkway: there is always an end
    return Walkway(tuple((one, IDLE) for one in places), tuple(ways), tuple(leaving), ends)


def _leads(ways: list[Way], start: int, ends: frozenset[int]) -> bool:
    met = {start}
    while more := {way.target for way in ways if way.source in met} - met:
        met |= more
    return bool(met & ends)


def alike_of(small: Small) -> Alike:
    target = np.array(small.target)
    same = np.arange(target.shape[1])
    table = Table(target, np.ones(target.shape, np.bool_), same, np.zeros_like(target))
    return alike(table, np.array([0, *small.faults]), np.array(small.seen, np.uint64))


def aim_of(small: Small) -> Aim:
    beside = Beside(walkway_of(small), alike_of(small))
    begins = [int(beside.alike.of[one]) for one in small.faults]
    live = {one: f"fault {one}" for one in begins if not beside.shows(0, one) and beside.where(one)}
    reached = {goal for way in beside.walkway.ways for goal in way.goals}
    return Aim(beside, tuple(goal for goal in GOALS if goal in reached), live)


def hidden_after(small: Small, walkway: Walkway, faults: tuple[int, ...], way: Way) -> tuple[int, ...]:
    """The states of the faulty benches after the way; those left out look other than the sound bench."""
    sight = small.seen[walkway.places[way.target][0]]
    after = (small.target[way.move][one] for one in faults)
    return tuple(sorted({one for one in after if small.seen[one] == sight}))


def cheapest(small: Small) -> int | None:
    """Dijkstra over place, goals reached, and states of all faulty benches not shown, whichever can be shown.

    None: no walk does everything. States that are left hidden for good are those that no walk at all shows.
    """
    walkway = walkway_of(small)
    dark = {one for one in small.faults if not shown_by_any(small, walkway, one)}
    reached = {goal for way in walkway.ways for goal in way.goals}
    begin = tuple(sorted({one for one in small.faults if small.seen[one] == small.seen[0]} - dark))
    best = {(0, frozenset[Goal](), begin): 0}
    queue = [(0, 0, 0, frozenset[Goal](), begin)]
    while queue:
        cost, _, place, had, faults = heapq.heappop(queue)
        if had == reached and not faults and place in walkway.ends:
            return cost
        if cost > best[place, had, faults]:
            continue
        for way in walkway.leaving[place]:
            to = (way.target, had | way.goals, hidden_after(small, walkway, faults, way))
            if cost + way.cost < best.get(to, 1 << 30):
                best[to] = cost + way.cost
                heapq.heappush(queue, (cost + way.cost, len(best), *to))
    return None


def shown_by_any(small: Small, walkway: Walkway, fault: int) -> bool:
    if small.seen[fault] != small.seen[0]:
        return True
    met, waiting = {(0, fault)}, [(0, fault)]
    for place, state in waiting:
        for way in walkway.leaving[place]:
            left = hidden_after(small, walkway, (state,), way)
            if not left:
                return True
            if (to := (way.target, left[0])) not in met:
                met.add(to)
                waiting.append(to)
    return False


def complete(small: Small, walk: tuple[Way, ...], aim: Aim) -> bool:
    """It hangs together, reaches every goal, shows every fault that can be shown, and ends where it may."""
    at, faults = 0, tuple(one for one in small.faults if shown_by_any(small, aim.beside.walkway, one))
    faults = tuple(one for one in faults if small.seen[one] == small.seen[0])
    for way in walk:
        assert way.source == at
        at, faults = way.target, hidden_after(small, aim.beside.walkway, faults, way)
    done = set(aim.goals) <= {goal for way in walk for goal in way.goals}
    return done and not faults and at in aim.beside.walkway.ends


@settings(max_examples=60, deadline=None)
@given(smalls())
def test_the_walk_is_the_cheapest_of_all_and_the_bound_says_so(small: Small) -> None:
    least, aim = cheapest(small), aim_of(small)
    if least is None:
        with pytest.raises(InterlockError, match="nothing leads on to"):
            cheapest_walk(aim)
        return
    found = cheapest_walk(aim)
    assert complete(small, found.walk, aim)
    assert found.cost == found.bound == least


@settings(max_examples=50, deadline=None)
@given(small=smalls(), most=st.integers(2, 40), percent=st.sampled_from([100, 103, 110, 300]))
def test_a_search_cut_short_keeps_the_bound_below_and_the_walk_above(
    small: Small, most: int, percent: int
) -> None:
    """Whatever the room it has: what it calls the least is no more, and what it calls complete is."""
    least, aim = cheapest(small), aim_of(small)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_RUNGS", ((100, most), (percent, most)))
        found = _found(aim)
    if found is not None:
        assert least is not None
        assert complete(small, found.walk, aim)
        assert found.bound <= least <= found.cost


def _found(aim: Aim) -> Found | None:
    try:
        return cheapest_walk(aim)
    except InterlockError:
        return None


def test_the_cheapest_walk_takes_the_long_way_round_where_that_shows_two_faults_at_once() -> None:
    """Worked by hand: move 0 shows the fault for 5, move 1 meets the goal for 4, move 2 does both for 8."""
    goal = frozenset(GOALS[:1])
    small = Small(
        target=[[0, 2, 2], [0, 1, 2], [0, 2, 2]],
        seen=[0, 0, 1],
        cost=[[5] * 3, [4] * 3, [8] * 3],
        goals=[[frozenset()] * 3, [goal] * 3, [goal] * 3],
        faults=[1],
        ends=frozenset({0}),
    )
    found = cheapest_walk(aim_of(small))
    assert [way.move for way in found.walk] == [2]
    assert found.cost == found.bound == 8


def test_a_fault_that_only_the_first_act_shows_is_shown_first() -> None:
    """After move 1 the faulty bench is as the sound one for ever; the goal needs move 1."""
    goal = frozenset(GOALS[:1])
    small = Small(
        target=[[0, 2, 2], [0, 0, 2]],
        seen=[0, 0, 1],
        cost=[[9] * 3, [1] * 3],
        goals=[[frozenset()] * 3, [goal] * 3],
        faults=[1],
        ends=frozenset({0}),
    )
    assert [way.move for way in cheapest_walk(aim_of(small)).walk] == [0, 1]


def test_what_one_test_cannot_do_after_the_rest_is_named() -> None:
    """Both moves lead to places that nothing leads away from, and each meets another goal."""
    door, button = frozenset(GOALS[:1]), frozenset(GOALS[1:2])
    small = Small(
        target=[[1, 1, 2], [2, 1, 2]],
        seen=[0, 0, 0],
        cost=[[1] * 3, [1] * 3],
        goals=[[door, frozenset(), frozenset()], [button, frozenset(), frozenset()]],
        faults=[],
        ends=frozenset({1, 2}),
    )
    with pytest.raises(
        InterlockError, match=r"nothing leads on to stop:(door|button); see what interlock check"
    ):
        cheapest_walk(aim_of(small))


def test_faults_alike_are_followed_once() -> None:
    """States 1 and 2 look the same and go the same ways; state 3 goes elsewhere."""
    small = Small(
        target=[[0, 2, 1, 0]],
        seen=[0, 1, 1, 1],
        cost=[[1] * 4],
        goals=[[frozenset()] * 4],
        faults=[1, 2, 3],
        ends=frozenset({0}),
    )
    of = alike_of(small).of
    assert of[1] == of[2] != of[3]
    assert len(set(of.tolist())) == 3


@settings(max_examples=30, deadline=None)
@given(smalls(), st.lists(st.integers(0, 2), max_size=12))
def test_states_of_one_class_look_the_same_whatever_one_does(small: Small, moves: list[int]) -> None:
    of = alike_of(small).of.tolist()
    for pair in ((a, b) for a in range(len(of)) for b in range(a) if of[a] == of[b] >= 0):
        at = pair
        for move in (one % len(small.target) for one in moves):
            assert small.seen[at[0]] == small.seen[at[1]]
            at = (small.target[move][at[0]], small.target[move][at[1]])
        assert small.seen[at[0]] == small.seen[at[1]]
