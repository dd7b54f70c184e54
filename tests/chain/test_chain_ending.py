"""Late reactions in every order: orders that come to the same are followed once, and none that differs is lost."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain.bent_steps import Moves
from interlock.chain.ending import _alike, _apart, _on, _Runs
from interlock.chain.spread import Level

row = st.tuples(*(st.integers(0, 2) for _ in range(6)))  # origin, word, set, now, two ends


def runs_of(rows: list[tuple[int, ...]]) -> _Runs:
    table = np.array(rows, np.int64).reshape(-1, 6)
    words, bits = table[:, 1].astype(np.uint64), table[:, 2:3].astype(np.uint64)
    return _Runs(table[:, 0], Level(words, bits), table[:, 3], table[:, 4:])


def rows_of(runs: _Runs) -> list[tuple[int, ...]]:
    parts = (runs.origin, runs.level.words, runs.level.bits[:, 0], runs.now, runs.ends[:, 0], runs.ends[:, 1])
    return [tuple(int(one) for one in row) for row in zip(*parts, strict=True)]


@given(st.lists(row, min_size=1, max_size=60))
def test_each_run_stays_once_in_its_order(rows):
    assert rows_of(_alike(runs_of(rows))) == list(dict.fromkeys(rows))


@given(st.lists(row, min_size=1, max_size=20), st.integers(2, 30))
def test_many_of_the_same_are_no_more_than_one_of_each(rows, times):
    assert sorted(rows_of(_alike(runs_of(rows * times)))) == sorted(set(rows))


def test_a_run_under_other_sets_is_another_run():
    rows = [(0, 5, 1, 0, 7, 7), (0, 5, 2, 0, 7, 7)]
    assert rows_of(_alike(runs_of(rows))) == rows


sets = st.integers(0, 15)


@given(st.lists(st.tuples(sets, sets, sets), max_size=12))
def test_rows_are_parted_by_what_was_due_and_no_set_is_lost(rows):
    """Each set of each row stands in one part of it, and that part says of each reaction what holds of the set."""
    table = np.array(rows, np.uint64).reshape(-1, 3)
    which, bits, goes_on = _apart(table[:, :1].copy(), table[:, 1:, None])
    found = {
        (int(row), one): tuple(known.tolist())
        for row, part, known in zip(which, bits[:, 0].tolist(), goes_on, strict=True)
        for one in range(4)
        if part >> one & 1
    }
    expected = {
        (at, one): tuple(bool(due >> one & 1) for due in dues)
        for at, (held, *dues) in enumerate(rows)
        for one in range(4)
        if held >> one & 1
    }
    assert found == expected
    assert sum(int(part).bit_count() for part in bits[:, 0]) == len(expected)


def test_a_reaction_that_goes_on_under_some_sets_keeps_its_time_under_these():
    """Two timers side by side, one of which hangs under the second set: under the first both end together."""
    runs = _Runs(
        np.array([0]), Level(np.array([5], np.uint64), bits_of(3)), np.array([0]), np.array([[7, 9]])
    )
    both, first = np.array([0, 0]), np.array([0, 1])
    moves = Moves(both, first, np.array([6, 7], np.uint64), np.array([[3], [1]], np.uint64))
    after = _on(runs, moves, first, np.array([7, 9]))
    ends = {
        (int(one), int(set_)): tuple(end)
        for one, set_, end in zip(after.level.words, after.level.bits[:, 0], after.ends.tolist(), strict=True)
    }
    assert ends[6, 1] == (14, 9)  # the first came at 7 and would come anew at 14; the second goes on
    assert ends[6, 2] == (14, 16)  # it was not due: it counts from 7
    assert ends[7, 1] == (7, 18)


def bits_of(one: int):
    return np.array([[one]], np.uint64)
