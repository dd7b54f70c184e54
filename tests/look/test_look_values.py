"""Figures of a signal, against a plain walk over its samples."""

import math
from itertools import groupby, pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from interlock.look.seen import SignalSeen
from interlock.look.values import MOST_EDGES, summary
from interlock.trace.model import Samples


def seen(values: list[float], bits: int | None = None) -> SignalSeen:
    """The summary of samples 10 ms apart."""
    times = np.arange(len(values), dtype=np.int64) * 10_000_000
    return summary(Samples("M", "S", "V", times, np.array(values, np.float64)), bits)


@given(st.lists(st.integers(0, 3), min_size=1, max_size=80))
def test_the_longest_still_stretch_is_that_of_a_plain_walk(values):
    found = seen([float(value) for value in values])
    runs = [(value, len(list(run))) for value, run in groupby(values)]
    longest = max(length for _, length in runs)
    assert found.still is not None and found.still.span.hi is not None
    assert found.still.samples == longest
    assert found.still.span.hi - found.still.span.lo == (longest - 1) * 10_000_000
    assert (found.still.value, longest) in runs
    assert (found.least, found.most, found.distinct) == (min(values), max(values), len(set(values)))


@given(st.lists(st.booleans(), min_size=1, max_size=80))
def test_edges_lie_between_the_last_old_and_the_first_new_sample(values):
    found = seen([float(value) for value in values], 1)
    assert found.two_valued
    assert found.edges is not None
    expected = [(at, after) for at, (before, after) in enumerate(pairwise(values)) if before != after]
    assert [(edge.span.lo, edge.span.hi, edge.value) for edge in found.edges] == [
        (at * 10_000_000, (at + 1) * 10_000_000, float(after)) for at, after in expected
    ]


def test_a_signal_of_more_values_has_no_edges():
    found = seen([0.0, 1.0, 2.0], 8)
    assert found.edges is None
    assert not found.two_valued
    assert seen([0.0, 1440.0, 0.0], 16).two_valued


def test_what_is_no_number_is_left_out_of_the_figures():
    found = seen([math.nan, math.nan, math.inf, 1.0, -1.0])
    assert (found.least, found.most, found.distinct, found.count) == (-1.0, 1.0, 2, 5)
    assert found.still is not None
    assert found.still.samples == 2  # one NaN after the other is standing still
    assert found.edges is None
    nothing = seen([math.nan])
    assert (nothing.least, nothing.most, nothing.distinct) == (None, None, 0)


def test_no_sample_at_all():
    found = seen([])
    assert (found.count, found.still, found.least) == (0, None, None)


def test_of_very_many_edges_the_first_are_listed():
    found = seen([float(at % 2) for at in range(1000)])
    assert found.edges is not None
    assert len(found.edges) == MOST_EDGES
    assert found.edges[0].span.lo == 0
