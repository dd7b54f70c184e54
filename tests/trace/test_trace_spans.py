"""Spans of doubt: every bad sample lies strictly inside of one, good samples bound it."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from interlock.trace import spans

MASKS = st.lists(st.booleans(), min_size=1, max_size=40)


@given(mask=MASKS)
def test_bad_samples_lie_between_the_good_ones_around_them(mask: list[bool]) -> None:
    times = np.arange(len(mask), dtype=np.int64) * 10 + 5
    found = list(spans.runs(np.array(mask), times))
    covered = {index for run in found for index in range(run.first, run.last + 1)}
    assert covered == {index for index, bad in enumerate(mask) if bad}
    for run in found:
        assert run.span.lo == (times[run.first - 1] if run.first else 0)
        assert run.span.hi == (times[run.last + 1] if run.last + 1 < len(mask) else None)
        assert run.count == run.last - run.first + 1


@given(values=st.lists(st.integers(0, 2), min_size=1, max_size=40), most=st.integers(1, 6))
def test_runs_of_equal_values_are_those_of_itertools(values: list[int], most: int) -> None:
    times = np.arange(len(values), dtype=np.int64) * 10
    array = np.array(values)
    same = np.concatenate(([False], array[1:] == array[:-1]))
    found = [(run.first, run.count) for run in spans.runs_of_equal(same, most, times)]
    expected, start = [], 0
    for index in range(1, len(values) + 1):
        if index == len(values) or values[index] != values[start]:
            if index - start > most:
                expected.append((start, index - start))
            start = index
    assert found == expected


def test_span_of_equal_values_reaches_from_the_first_to_the_next_other_one() -> None:
    times = np.array([0, 10, 20, 30, 40], np.int64)
    same = np.array([False, False, True, True, False])
    (run,) = spans.runs_of_equal(same, 2, times)
    assert (run.span.lo, run.span.hi) == (10, 40)


def test_span_at_the_end_has_no_upper_bound() -> None:
    (run,) = spans.runs(np.array([False, True]), np.array([0, 10], np.int64))
    assert run.span.hi is None


def test_too_many_runs_are_told_as_one_that_covers_them() -> None:
    mask = np.tile([True, False], spans.MOST + 1)
    times = np.arange(len(mask), dtype=np.int64)
    (run,) = spans.runs(mask, times)
    assert (run.first, run.last, run.count) == (0, len(mask) - 2, spans.MOST + 1)
    same = np.tile([False, True, True], spans.MOST + 1)
    (run,) = spans.runs_of_equal(same, 2, np.arange(len(same), dtype=np.int64))
    assert (run.first, run.last) == (0, len(same) - 1)
