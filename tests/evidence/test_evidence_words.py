"""Times in words: bounds outwards, limits exact, nothing that could read as the other side of a limit."""

import re
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from interlock.evidence.words import MEANING, SHORT, bounds, effect_words, exact, instant, pair
from interlock.interval import Interval
from interlock.verdict import Verdict

times = st.integers(-(10**10), 10**12)
SCALE = {"ms": 10**6, "s": 10**9}


@st.composite
def spans(draw: st.DrawFn) -> Interval:
    low = draw(times)
    return Interval(low, draw(st.none() | st.integers(low, low + 10**11)))


def test_every_verdict_has_words_and_only_a_pass_reads_as_one() -> None:
    assert set(SHORT) == set(MEANING) == set(Verdict)
    assert len(set(SHORT.values())) == len(Verdict)
    for verdict in (Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED):
        assert "not a pass" in MEANING[verdict]


@given(spans(), st.sampled_from(["ms", "s"]), st.none() | st.integers(0, 10**11))
def test_bounds_are_rounded_outwards_and_by_little(span: Interval, unit: str, limit: int | None) -> None:
    low, high = pair(span, unit, limit)
    assert Decimal(low) * SCALE[unit] <= span.lo
    assert span.lo - Decimal(low) * SCALE[unit] < 10**6
    if span.hi is None:
        assert high is None
    else:
        assert high is not None
        assert Decimal(high) * SCALE[unit] >= span.hi
        assert Decimal(high) * SCALE[unit] - span.hi < 10**6


@given(spans(), st.integers(0, 10**11), st.sampled_from(["ms", "s"]))
def test_a_printed_bound_is_on_the_same_side_of_the_limit(span: Interval, limit: int, unit: str) -> None:
    low, high = pair(span, unit, limit)
    scaled = Decimal(limit) / SCALE[unit]
    assert (Decimal(low) > scaled) == (span.lo > limit)
    if span.hi is not None and high is not None:
        assert (Decimal(high) <= scaled) == (span.hi <= limit)


@given(st.integers(0, 10**13))
def test_a_limit_is_printed_exactly(value: int) -> None:
    number, unit = exact(value).split(" ")
    assert Decimal(number) * SCALE[unit] == value
    assert "E" not in number


@pytest.mark.parametrize(
    ("span", "limit", "words"),
    [
        (Interval(38_020_000, 46_110_000), 100_000_000, "38.0 to 46.2 ms"),
        (Interval(99_960_000, 99_970_000), 99_980_000, "99.960 to 99.970 ms"),
        (Interval(100_000_001, 100_000_002), 100_000_000, "100.000001 to 100.000002 ms"),
        (Interval(3_880_400_000, 3_904_200_000), 6_000_000_000, "3.880 to 3.905 s"),
        (Interval(3_100_000_000, None), 5_000_000_000, "3.100 s or more"),
        (Interval(-1_250_000, 800_000), 100_000_000, "-1.3 to 0.8 ms"),
        (None, None, "not timed"),
    ],
)
def test_bounds_in_words(span: Interval | None, limit: int | None, words: str) -> None:
    assert bounds(span, limit) == words


@pytest.mark.parametrize(
    ("value", "words"), [(100_000_000, "100 ms"), (6 * 10**9, "6 s"), (2_500_000_000, "2.5 s"), (0, "0 ms")]
)
def test_limits_in_words(value: int, words: str) -> None:
    assert exact(value) == words


@given(spans())
def test_an_instant_names_seconds(span: Interval) -> None:
    assume(span.lo >= 0)
    assert re.fullmatch(r"\d+\.\d{4} (s or later|to \d+\.\d{4} s)", instant(span))


def test_an_unseen_instant_and_an_effect_in_words() -> None:
    assert instant(None) == "not of one demand"
    assert effect_words("bus_discharged") == "bus discharged"
