"""Late reactions in every order: orders that come to the same are followed once, and none that differs is lost."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from interlock.chain.ending import _alike, _Runs
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
