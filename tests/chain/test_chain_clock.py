"""How late can the bench be where, since a demand began? Against a walk in steps of one millisecond.

The walk lets the time go by tick by tick and keeps of each reaction that is due how long it may still wait. That the
latest moment of everything is the worst, which `interlock.chain.clock` relies on, is not used there.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from interlock.chain.clock import NEVER, Delayed, overdue

ACT = -1


@dataclass(frozen=True)
class Board:
    """Places, what is due in each (by column), moves (from, to, column or ACT), the ways in (place, steps)."""

    due: tuple[tuple[bool, ...], ...]
    delays: tuple[int, ...]
    moves: tuple[tuple[int, int, int], ...]
    entries: tuple[tuple[int, int], ...]

    def delayed(self) -> Delayed:
        moves = np.array(sorted(self.moves), np.int64).reshape(-1, 3)
        entries = np.array(self.entries, np.int64).reshape(-1, 2)
        due = np.array(self.due, np.bool_).reshape(len(self.due), len(self.delays))
        delays = np.array(self.delays, np.int64)
        return Delayed(
            moves[:, 0], moves[:, 1], moves[:, 2], due, delays, entries[:, 0].copy(), entries[:, 1].copy()
        )


def by_ticks(board: Board, within: int) -> dict[int, int]:
    """The places in which the time can be beyond the limit, and after how many steps at the soonest."""
    late: dict[int, int] = {}
    waiting: dict[int, set[tuple[int, tuple[int | None, ...], int]]] = {}
    for place, steps in board.entries:
        waiting.setdefault(steps, set()).add((place, left(board, place, {}), 0))
    met, level = set(), min(waiting, default=0)
    while waiting:
        todo = sorted(waiting.pop(level, set()), key=str)
        while todo:
            place, waits, time = here = todo.pop()
            if here in met:
                continue
            met.add(here)
            if time > within:
                late.setdefault(place, level)
            if all(one is None or one > 0 for one in waits):  # time may go by
                rest = tuple(None if one is None else one - 1 for one in waits)
                todo.append((place, rest, min(time + 1, within + 1)))
            for source, target, column in board.moves:
                if source == place:
                    goes_on = {at: one for at, one in enumerate(waits) if one is not None and at != column}
                    waiting.setdefault(level + 1, set()).add((target, left(board, target, goes_on), time))
        level += 1
    return late


def left(board: Board, place: int, before: dict[int, int]) -> tuple[int | None, ...]:
    """How long each reaction that is due in the place may wait: as before, or its whole delay."""
    return tuple(
        before.get(at, delay) if board.due[place][at] else None for at, delay in enumerate(board.delays)
    )


@st.composite
def boards(draw: st.DrawFn) -> Board:
    """Two to five places and one or two reactions; a reaction can happen where it is due, and nowhere else."""
    places, columns = draw(st.integers(2, 5)), draw(st.integers(1, 2))
    due = tuple(tuple(draw(st.booleans()) for _ in range(columns)) for _ in range(places))
    delays = tuple(draw(st.integers(1, 4)) for _ in range(columns))
    at = st.integers(0, places - 1)
    moves = {
        (one, draw(at), column) for one in range(places) for column in range(columns) if due[one][column]
    }
    acts = draw(st.lists(st.tuples(at, at), max_size=4, unique=True))
    entries = draw(st.lists(st.tuples(at, st.integers(0, 3)), min_size=1, max_size=2, unique=True))
    return Board(due, delays, (*sorted(moves), *((*act, ACT) for act in acts)), tuple(entries))


@settings(max_examples=150, deadline=None)
@given(boards(), st.integers(1, 9))
def test_as_the_walk_by_ticks_finds(board: Board, within: int) -> None:
    found = overdue(board.delayed(), within)
    assert found.whole
    late = {place: int(at) for place, at in enumerate(found.late_at) if at != NEVER}
    assert late == by_ticks(board, within)


@settings(max_examples=60, deadline=None)
@given(boards(), st.integers(1, 9))
def test_the_way_told_is_a_way_of_that_length(board: Board, within: int) -> None:
    graph = board.delayed()
    found = overdue(graph, within)
    for place in np.flatnonzero(found.late_at != NEVER).tolist():
        entry, edges = found.way(place)
        at = int(graph.entry[entry])
        for edge in edges:
            assert graph.source[edge] == at
            at = int(graph.target[edge])
        assert at == place
        assert graph.steps[entry] + len(edges) == found.late_at[place]


@settings(max_examples=60, deadline=None)
@given(boards(), st.integers(1, 8))
def test_a_longer_limit_never_makes_anything_late(board: Board, within: int) -> None:
    short, long = (overdue(board.delayed(), one).late_at for one in (within, within + 1))
    assert (short <= long).all()


ROW = ((True, False), (False, True), (False, False))
"""The first reaction is due in place 0, the second in place 1 to which it leads, nothing in place 2."""
MOVES = ((0, 1, 0), (1, 2, 1))


@pytest.mark.parametrize(
    ("due", "moves", "within", "late"),
    [
        (ROW, MOVES, 70, {2}),  # 30 and then 40 ms: only what comes after both
        (ROW, MOVES, 69, {1, 2}),
        (ROW, MOVES, 29, {0, 1, 2}),
        (((True, True), (False, True), (False, False)), MOVES, 40, {2}),  # side by side
        (((True, True), (False, True), (False, False)), MOVES, 39, {1, 2}),
        (ROW, (*MOVES, (0, 0, ACT)), 70, {2}),  # an act that changes nothing gives no more time
        (((True, False), (False, False), (False, False)), ((0, 1, ACT), (1, 0, ACT)), 900, {0, 1}),
    ],
)
def test_delays_of_thirty_and_forty(
    due: tuple[tuple[bool, ...], ...], moves: tuple[tuple[int, int, int], ...], within: int, late: set[int]
) -> None:
    found = overdue(Board(due, (30, 40), moves, ((0, 0),)).delayed(), within)
    assert set(np.flatnonzero(found.late_at != NEVER).tolist()) == late


def test_without_a_way_in_nothing_is_late() -> None:
    assert (overdue(Board(ROW, (30, 40), MOVES, ()).delayed(), 1).late_at == NEVER).all()


def test_where_nothing_is_due_people_may_wait() -> None:
    found = overdue(Board(((),), (), (), ((0, 4),)).delayed(), 10**9)
    assert found.first(np.array([True])) == 0
    assert found.late_at[0] == 4
    assert found.way(0) == (0, ())


def test_the_soonest_of_the_bad_places_is_told() -> None:
    found = overdue(Board(ROW, (30, 40), MOVES, ((0, 2),)).delayed(), 50)
    assert found.first(np.array([True, False, True])) == 2
    assert found.first(np.array([True, True, True])) == 1
    assert found.first(np.array([True, False, False])) is None
