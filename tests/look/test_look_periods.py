"""Periods and gaps, against the same figures by Python's own statistics."""

import statistics
from itertools import pairwise

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from interlock.look.periods import longest_gap, periods

STAMPS = st.lists(st.integers(0, 10**15), min_size=1, max_size=60).map(sorted)


@given(STAMPS)
def test_periods_are_those_of_the_standard_library(stamps):
    found = periods(np.array(stamps, np.int64))
    steps = [b - a for a, b in pairwise(stamps)]
    if not steps:
        assert found is None
        return
    assert found is not None
    assert found.median_ns == statistics.median_low(steps)
    assert (found.least_ns, found.most_ns) == (min(steps), max(steps))


@given(STAMPS, st.integers(0, 10**15))
def test_no_stretch_without_a_stamp_is_longer(stamps, more):
    end = stamps[-1] + more
    gap = longest_gap(np.array(stamps, np.int64), end)
    assert gap.hi is not None
    marks = [0, *stamps, end]
    assert gap.hi - gap.lo == max(b - a for a, b in pairwise(marks))
    assert not [stamp for stamp in stamps if gap.lo < stamp < gap.hi]
