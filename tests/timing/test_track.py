"""A condition at each sample: what a comparison may say of an uncertain value, and where a log is blind."""

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from interlock.bench.observe import parse_condition
from interlock.bench.source_models import StampDelay
from interlock.interval import Interval
from interlock.timing.track import (
    BLIND,
    NO,
    UNKNOWN,
    YES,
    Clock,
    Track,
    combine,
    compare,
    condition_states,
    follow,
    invert,
)
from interlock.trace.model import Quality, QualityKind, Samples

CLOCK = Clock(0, 4, 0)
OPERATORS = ("is", "<", "<=", ">", ">=")


def meets(value: float | Fraction, operator: str, bound: float | Fraction) -> bool:
    return {
        "is": value == bound,
        "<": value < bound,
        "<=": value <= bound,
        ">": value > bound,
        ">=": value >= bound,
    }[operator]


def state(text: str, value: float, uncertain: float = 0.0) -> int:
    (comparison,) = parse_condition(text).comparisons
    return int(compare(comparison, np.array([value]), uncertain)[0])


@given(
    st.sampled_from(OPERATORS),
    st.sampled_from(["0.1", "0.3", "0.01", "0.005", "0.7", "0.025", "1"]),
    st.integers(-40_000, 40_000),
    st.integers(-40_000, 40_000),
    st.integers(-3, 3),
)
@example(">", "0.1", -32_768, 32_768, 0)  # 32768 * 0.1 - 3276.8 is 4.5e-13 in binary floating point
@example("is", "0.1", 0, 3, 0)
def test_a_value_at_the_bound_is_at_it_though_scale_and_offset_are_not_exact(
    operator: str, scale: str, shift: int, raw: int, beside: int
) -> None:
    """Oracle: exact fractions of what the DBC writes; the bound is `beside` steps from the value."""
    step = Fraction(scale)
    offset, exact = shift * step, (raw + shift) * step
    bound = exact + beside * step
    written = f"{float(bound):.10g}"
    comparison = replace(parse_condition(f"M.S {operator} 0").comparisons[0], value=float(written))
    shown = np.array([float(raw)]) * float(scale) + float(f"{float(offset):.10g}")  # as frames are decoded
    assert int(compare(comparison, shown, 0.0)[0]) == int(meets(exact, operator, bound))


@given(
    st.sampled_from(OPERATORS),
    st.booleans(),
    st.integers(-40, 40),
    st.integers(-20, 20),
    st.integers(0, 12),
)
def test_compare_against_every_value_that_the_shown_one_may_stand_for(
    operator: str, magnitude: bool, shown: int, bound: int, uncertain: int
) -> None:
    """Oracle: all whole values within the uncertainty (bounds and values are whole, so their ends are among them)."""
    name = "|M.S|" if magnitude else "M.S"
    got = state(f"{name} {operator} {bound}", float(shown), float(uncertain))
    true = [abs(v) if magnitude else v for v in range(shown - uncertain, shown + uncertain + 1)]
    answers = {meets(v, operator, bound) for v in true}
    if got == YES:
        assert answers == {True}
    elif got == NO:
        assert answers == {False}
    elif uncertain == 0:
        pytest.fail("an exact value leaves nothing open")


@pytest.mark.parametrize(
    ("text", "value", "uncertain", "expected"),
    [
        ("|M.S| > 0.3 A", 0.41, 0.1, YES),
        ("|M.S| > 0.3 A", -0.41, 0.1, YES),
        ("|M.S| > 0.3 A", 0.40, 0.1, UNKNOWN),  # 0.3 A exactly is possible, and that is not above
        ("|M.S| > 0.3 A", 0.35, 0.1, UNKNOWN),
        ("|M.S| > 0.3 A", 0.20, 0.1, UNKNOWN),  # a tie is never decided by a rounding error
        ("|M.S| > 0.3 A", 0.19, 0.1, NO),
        ("|M.S| > 0.3 A", -0.19, 0.1, NO),
        ("M.S > 60 V", 59.8, 0.1, NO),
        ("M.S > 60 V", 60.0, 0.1, UNKNOWN),
        ("M.S > 60 V", 60.2, 0.1, YES),
        ("M.S > 60 V", 60.0, 0.0, NO),
        ("|M.S| >= 5 1/min", 6.5, 1.0, YES),
        ("|M.S| >= 5 1/min", 3.5, 1.0, NO),
        ("|M.S| >= 5 1/min", 5.0, 0.0, YES),
        ("M.S is 1", 1.0, 0.0, YES),
        ("M.S is 1", 0.0, 0.0, NO),
        ("M.S is 1", 3.0, 0.0, NO),
        ("|M.S| > 0 Nm", 0.0, 0.0, NO),
        ("|M.S| > 0 Nm", -0.005, 0.0, YES),
        ("M.S < 1", float("nan"), 0.0, UNKNOWN),
        ("M.S > 1", float("nan"), 0.0, UNKNOWN),
        ("M.S is 1", float("nan"), 0.5, UNKNOWN),
        ("M.S > 1", float("inf"), 0.0, YES),
    ],
)
def test_compare_at_the_figures_of_a_bench(text: str, value: float, uncertain: float, expected: int) -> None:
    assert state(text, value, uncertain) == expected


@given(st.sampled_from(OPERATORS), st.floats(-100, 100), st.integers(0, 50), st.integers(0, 50))
def test_more_uncertainty_never_decides_more(operator: str, value: float, less: int, more: int) -> None:
    small, large = sorted((less, more))
    wide = state(f"M.S {operator} 10", value, large / 10)
    assert wide in {state(f"M.S {operator} 10", value, small / 10), UNKNOWN}


KNOWN = st.sampled_from([YES, NO])
ANY = st.sampled_from([YES, NO, UNKNOWN, BLIND])


def readings(states: tuple[int, ...]) -> Iterator[tuple[bool, ...]]:
    """Each way in which the open ones may turn out."""
    return product(*([bool(one)] if one >= NO else [False, True] for one in states))


@given(st.lists(ANY, min_size=1, max_size=4), st.booleans())
def test_combine_says_only_what_holds_however_the_open_parts_turn_out(parts: list[int], every: bool) -> None:
    got = int(combine([np.array([one], dtype=np.int8) for one in parts], every=every)[0])
    answers = {all(way) if every else any(way) for way in readings(tuple(parts))}
    assert got == (UNKNOWN if len(answers) > 1 else int(answers.pop()))


@given(st.lists(ANY, min_size=1, max_size=20))
def test_invert_twice_changes_nothing_but_calls_every_doubt_unknown(states: list[int]) -> None:
    shown = np.array(states, dtype=np.int8)
    twice = invert(invert(shown))
    assert twice.tolist() == [one if one >= NO else UNKNOWN for one in states]
    assert all(int(a) == 1 - b for a, b in zip(invert(shown).tolist(), states, strict=True) if b >= NO)


def test_condition_states_joins_comparisons_of_one_message() -> None:
    samples = {
        "S": Samples("M", "S", "", np.arange(4), np.array([0.0, 2.0, 0.0, np.nan])),
        "T": Samples("M", "T", "", np.arange(4), np.array([0.0, 0.0, -3.0, 0.0])),
    }
    either = condition_states(parse_condition("|M.S| > 0 or |M.T| > 0"), samples, {})
    assert either.tolist() == [NO, YES, YES, UNKNOWN]
    both = condition_states(parse_condition("M.S > 1 and M.T >= 0"), samples, {"S": 1.5})
    assert both.tolist() == [UNKNOWN, UNKNOWN, NO, UNKNOWN]


def test_the_clock_is_that_of_the_bench_description() -> None:
    clock = Clock.of(StampDelay(least="1 ms", most="4 ms"), 1000)
    assert clock == Clock(1_000_000, 4_000_000, 1000)
    assert clock.sampled(10_000_000) == Interval(5_999_000, 9_001_000)


@given(st.integers(0, 10**12), st.integers(0, 100), st.integers(0, 100), st.integers(0, 10), st.data())
def test_sampled_holds_the_instant_of_the_content(
    content: int, least: int, band: int, width: int, data: st.DataObject
) -> None:
    clock = Clock(least, least + band, width)
    stamp = content + data.draw(st.integers(least, least + band)) + data.draw(st.integers(-width, width))
    assert content in clock.sampled(stamp)
    assert clock.sampled(stamp + 1).lo == clock.sampled(stamp).lo + 1


def test_interval_of_a_track_reaches_from_sample_to_sample() -> None:
    track = Track("t", "M", np.array([10, 20, 30]), np.array([0, 1, 1], dtype=np.int8), Clock(1, 4, 2))
    assert track.interval(0, 1) == Interval(4, 21)
    assert track.interval(None, 1).lo < -(10**18)
    assert track.interval(2, None) == Interval(24, None)


def quality(
    lo: int, hi: int | None, message: str | None = "M", signal: str | None = None, blinds: bool = True
) -> Quality:
    return Quality(QualityKind.GAP, message, signal, Interval(lo, hi), "x:1", blinds, "Something is wrong.")


def followed(*doubts: Quality, stamps: tuple[int, ...] = (10, 20, 30, 40)) -> Track:
    samples = Samples("M", "S", "", np.array(stamps, dtype=np.int64), np.ones(len(stamps)))
    return follow("t", [samples], np.ones(len(stamps), dtype=np.int8), doubts, CLOCK)


@pytest.mark.parametrize(
    ("doubt", "stamps", "states"),
    [
        (quality(10, 20), [10, 15, 20, 30, 40], [1, BLIND, 1, 1, 1]),  # a gap: both its ends are evidence
        (quality(10, 40), [10, 20, 30, 40], [1, BLIND, BLIND, 1]),
        (quality(5, 25), [10, 20, 30, 40], [BLIND, BLIND, 1, 1]),
        (quality(20, None), [10, 20, 30, 40], [1, 1, BLIND, BLIND]),
        (quality(40, None), [10, 20, 30, 40, 40], [1, 1, 1, 1, BLIND]),  # after the last frame
        (quality(0, 10), [5, 10, 20, 30, 40], [BLIND, 1, 1, 1, 1]),  # before the first one
        (quality(20, 30, signal="S"), [10, 20, 30, 40], [1, BLIND, BLIND, 1]),  # of its samples, ends and all
        (quality(22, 28, signal="S"), [10, 20, 25, 30, 40], [1, 1, BLIND, 1, 1]),
        (quality(20, 30, signal="T"), [10, 20, 30, 40], [1, 1, 1, 1]),  # of a signal that is not used
        (quality(10, 40, message="N"), [10, 20, 30, 40], [1, 1, 1, 1]),
        (quality(10, 40, message=None), [10, 20, 30, 40], [1, BLIND, BLIND, 1]),
        (quality(10, 40, blinds=False), [10, 20, 30, 40], [1, 1, 1, 1]),
    ],
)
def test_where_a_doubt_blinds(doubt: Quality, stamps: list[int], states: list[int]) -> None:
    track = followed(doubt)
    assert track.stamps_ns.tolist() == stamps
    assert track.states.tolist() == states
    assert (track.name, track.message, track.clock) == ("t", "M", CLOCK)


SPANS = st.lists(
    st.tuples(st.integers(0, 60), st.none() | st.integers(0, 60), st.booleans()), min_size=1, max_size=4
)


@given(SPANS, st.lists(st.integers(0, 50), min_size=1, max_size=12).map(sorted))
def test_every_doubt_leaves_a_blind_sample_and_the_stamps_in_order(
    spans: list[tuple[int, int | None, bool]], stamps: list[int]
) -> None:
    doubts = [
        quality(lo, None if hi is None else max(lo, hi), signal="S" if of_signal else None)
        for lo, hi, of_signal in spans
    ]
    track = followed(*doubts, stamps=tuple(stamps))
    assert (np.diff(track.stamps_ns) >= 0).all()
    assert sorted(set(stamps) - set(track.stamps_ns.tolist())) == []
    blind = track.stamps_ns[track.states == BLIND]
    for doubt in doubts:
        hi = 2**62 if doubt.span.hi is None else doubt.span.hi
        assert ((blind >= doubt.span.lo) & (blind <= hi)).any()


@given(SPANS)
def test_more_doubt_never_gives_back_a_sample(spans: list[tuple[int, int | None, bool]]) -> None:
    doubts = [quality(lo, None if hi is None else max(lo, hi)) for lo, hi, _ in spans]
    few, many = followed(*doubts[:-1]), followed(*doubts)
    kept_few = set(few.stamps_ns[few.states != BLIND].tolist())
    kept_many = set(many.stamps_ns[many.states != BLIND].tolist())
    assert kept_many <= kept_few
