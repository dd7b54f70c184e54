"""The decision rule: what no interval may be decided as, and where the limit itself lies.

The rule is that of ISO 14253-1 (from memory): a measurement proves conformity only if its whole interval lies within
the limit, and the opposite only if its whole interval lies beyond it.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.interval import Interval
from interlock.timing.decision import judge
from interlock.verdict import Verdict

NS = st.integers(-(10**12), 10**12)
LIMITS = st.integers(0, 10**11)


@st.composite
def intervals(draw: st.DrawFn) -> Interval:
    lo = draw(NS)
    hi = draw(st.none() | st.integers(lo, 10**12 + 1))
    return Interval(lo, hi)


@pytest.mark.parametrize(
    ("lo", "hi", "verdict"),
    [
        (0, 100, Verdict.PASS),  # the limit itself is allowed
        (100, 100, Verdict.PASS),
        (0, 101, Verdict.INCONCLUSIVE),
        (100, 101, Verdict.INCONCLUSIVE),
        (101, 101, Verdict.FAIL),
        (101, 500, Verdict.FAIL),
        (101, None, Verdict.FAIL),
        (100, None, Verdict.INCONCLUSIVE),
        (-50, None, Verdict.INCONCLUSIVE),
        (-50, -10, Verdict.PASS),
    ],
)
def test_table(lo: int, hi: int | None, verdict: Verdict) -> None:
    assert judge(Interval(lo, hi), 100) is verdict


@given(intervals(), LIMITS)
def test_pass_only_if_no_value_of_the_interval_is_beyond_the_limit(bound: Interval, limit: int) -> None:
    beyond = bound.hi is None or bound.hi > limit
    within = bound.lo <= limit
    expected = {
        (True, True): Verdict.INCONCLUSIVE,
        (True, False): Verdict.FAIL,
        (False, True): Verdict.PASS,
    }
    assert judge(bound, limit) is expected[beyond, within]


@given(intervals(), intervals(), LIMITS)
def test_a_wider_interval_never_decides_more(a: Interval, b: Interval, limit: int) -> None:
    assert judge(a.hull(b), limit) in {judge(a, limit), Verdict.INCONCLUSIVE}


@given(intervals(), LIMITS, st.integers(0, 10**9))
def test_a_stricter_limit_never_turns_a_fail_into_a_pass(bound: Interval, limit: int, by: int) -> None:
    order = [Verdict.PASS, Verdict.INCONCLUSIVE, Verdict.FAIL]
    assert order.index(judge(bound, limit)) >= order.index(judge(bound, limit + by))


@given(NS, LIMITS)
def test_an_exact_value_is_always_decided(value: int, limit: int) -> None:
    assert judge(Interval(value, value), limit) is (Verdict.PASS if value <= limit else Verdict.FAIL)


@pytest.mark.parametrize("end", [float("nan"), 1.0, True, "1"])
def test_nothing_but_whole_nanoseconds_ever_reaches_the_rule(end: object) -> None:
    """So no NaN can pass: an interval refuses it."""
    with pytest.raises(TypeError, match="integer nanoseconds"):
        Interval(0, end)  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="integer nanoseconds"):
        Interval(end, None)  # type: ignore[arg-type]
