"""Repeated stops of one log: every one counts, figures by the timing room, bounds against scipy, no verdict touched.

Tolerance factors: scipy's non-central t is the reference (ISO 16269-6, from memory); 59 stops for 95/95 without any
distribution: 0.95^59 < 0.05 (elementary).
"""

import json
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from replay_tape import heard, sound
from scipy.stats import nct, norm

from interlock.interval import Interval
from interlock.replay import document
from interlock.replay.finding import Finding
from interlock.replay.repeats import repeated
from interlock.verdict import Verdict

MS = 1_000_000
spans = st.builds(
    lambda lo, width: Interval(lo, None if width is None else lo + width),
    st.integers(0, 400 * MS),
    st.none() | st.integers(0, 40 * MS),
)


def finding(latency: Interval | None, limit_ns: int | None = 100 * MS, effect: str = "torque_off") -> Finding:
    return Finding("stop", "drive", effect, Verdict.PASS, "r", "s", "t", Interval(0, 1), latency, limit_ns)


@given(st.lists(spans, min_size=2, max_size=70))
def test_every_stop_counts(stops: list[Interval]) -> None:
    (one,) = repeated([finding(stop) for stop in stops])
    assert one.figures.stops == tuple(stops)
    assert one.figures.worst.lo == max(stop.lo for stop in stops)
    highs = [stop.hi for stop in stops if stop.hi is not None]
    assert one.figures.worst.hi == (max(highs) if len(highs) == len(stops) else None)
    json.dumps(one.as_json(), allow_nan=False)


def test_one_stop_is_no_repetition_and_neither_is_one_of_another_effect() -> None:
    assert repeated([finding(Interval(1, 2)), finding(Interval(1, 2), effect="standstill")]) == ()


@pytest.mark.parametrize(
    "left_out",
    [finding(None), finding(Interval(1, 2), limit_ns=None)],
)
def test_what_was_not_timed_is_no_stop(left_out: Finding) -> None:
    (one,) = repeated([finding(Interval(1, 2)), left_out, finding(Interval(3, 4))])
    assert len(one.figures.stops) == 2


def test_the_normal_bound_is_mean_plus_k_s_with_k_by_the_non_central_t() -> None:
    exact = [Interval(v * MS, v * MS) for v in (20, 22, 19, 24, 21, 23, 20, 22)]
    (one,) = repeated([finding(stop) for stop in exact])
    values = [stop.lo for stop in exact]
    mean = sum(values) / 8
    spread = sqrt(sum((v - mean) ** 2 for v in values) / 7)
    k = float(nct.ppf(0.95, 7, norm.ppf(0.95) * sqrt(8))) / sqrt(8)
    assert one.figures.normal_bound_ns == pytest.approx(mean + k * spread, rel=1e-6)
    assert "normal bound" in one.sentence


@pytest.mark.parametrize(("count", "shown"), [(58, False), (59, True)])
def test_59_stops_bound_95_percent_whatever_their_distribution(count: int, shown: bool) -> None:
    spiky = [Interval(90 * MS if n % 7 == 0 else MS, 95 * MS if n % 7 == 0 else 2 * MS) for n in range(count)]
    (one,) = repeated([finding(stop) for stop in spiky])
    assert ("their largest" in one.sentence) is shown
    assert "normal bound" not in one.sentence.partition(":")[0]


def test_a_stop_above_the_limit_is_said_whatever_the_others_were() -> None:
    (one,) = repeated([finding(Interval(1, 2))] * 80 + [finding(Interval(101 * MS, 102 * MS))])
    assert one.sentence == "Of 81 stops one took longer than the limit."


def test_a_stop_without_an_end_shows_nothing() -> None:
    (one,) = repeated([finding(Interval(1, 2))] * 80 + [finding(Interval(5, None))])
    assert one.figures.worst.hi is None
    assert "is not shown" in one.sentence


def test_a_log_with_three_stops_by_the_cover_says_what_three_are_worth() -> None:
    judgement = heard(sound())
    made = document(judgement, "0" * 64)
    by_cover = [one for one in made["repeats"] if one["function"] == "cover_stop"]
    assert {one["count"] for one in by_cover} == {3}
    assert all(one["worth"].startswith("3 stops: the largest lies above 36.8%") for one in by_cover)
    assert made["verdict"] == "pass"
