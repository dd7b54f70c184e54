"""Drift from test to test: slower shows, scatter does not, and too few values say nothing."""

from datetime import date
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from register_lines import BENCH, OTHER, at, counted, proof

from interlock.register import append, create, load_register
from interlock.register.drift import Trend, trends
from interlock.register.drift_document import drift_document, drift_schema
from interlock.register.entries import FunctionTest, Timing, Withdrawn
from interlock.verdict import Verdict

MS = 1_000_000


def run_on(
    day: str,
    *latencies: float | tuple[float, float | None],
    limit: float | None = 100,
    rest: str = "pass",
    verdict: str = "pass",
):
    """A test with these latencies in ms (a number: known to half a millisecond either way)."""
    timings = []
    for one in latencies:
        lo, hi = one if isinstance(one, tuple) else (one - 0.5, one + 0.5)
        span = (int(lo * MS), None if hi is None else int(hi * MS))
        bound = None if limit is None else int(limit * MS)
        timings.append(
            Timing(
                effect="torque_off",
                subject="drive",
                verdict=Verdict(verdict),
                latency_ns=span,
                limit_ns=bound,
            )
        )
    function = FunctionTest(verdict=Verdict.PASS, timings=tuple(timings))
    return proof(day, f"{day}.log", functions={"cover_stop": function}, rest=Verdict(rest))


def found(folder: Path, *contents, allowed: float = 0.1) -> list[Trend]:
    path = folder / "r.jsonl"
    path.unlink(missing_ok=True)
    create(path, now=at("2025-01-01"))
    for content in contents:
        append(path, BENCH, content, now=at("2027-12-31"))
    return list(trends(load_register(path), BENCH.id, allowed=allowed))


def one(folder: Path, *contents, **more) -> Trend:
    (only,) = found(folder, *contents, **more)
    return only


OLD = (20.0, 21.0, 19.5, 20.5)


def test_a_bench_that_stays_as_it_is(tmp_path):
    trend = one(tmp_path, run_on("2025-02-01", *OLD), run_on("2026-02-01", 20.2, 20.6, 19.9, 20.1))
    assert trend.verdict is Verdict.PASS
    assert (trend.latest, trend.earlier) == (date(2026, 2, 1), (date(2025, 2, 1),))
    assert (trend.longest_ms, trend.limit_ms) == (pytest.approx(21.1), 100.0)
    assert "that it became slower by more than 10 ms (10 % of the limit) is excluded: " in trend.sentence


def test_a_bench_that_became_slower(tmp_path):
    trend = one(tmp_path, run_on("2025-02-01", *OLD), run_on("2026-02-01", 45.2, 45.6, 44.9, 45.1))
    assert trend.verdict is Verdict.FAIL
    assert trend.found.difference == pytest.approx(24.95)  # means 45.2 and 20.25
    assert "look for the cause" in trend.sentence


def test_a_difference_within_what_is_allowed_is_told_in_its_numbers(tmp_path):
    slower = run_on("2025-02-01", *OLD), run_on("2026-02-01", 25.2, 25.6, 24.9, 25.1)
    assert one(tmp_path, *slower).verdict is Verdict.PASS
    assert one(tmp_path, *slower, allowed=0.01).verdict is Verdict.FAIL


def test_scatter_leaves_it_open(tmp_path):
    trend = one(tmp_path, run_on("2025-02-01", 10, 40), run_on("2026-02-01", 15, 50))
    assert trend.verdict is Verdict.INCONCLUSIVE
    assert "neither shown nor excluded" in trend.sentence


def test_wide_intervals_leave_it_open(tmp_path):
    """Known to 30 ms either way, nothing below a drift of 60 ms can be told apart."""
    wide = [(x - 30, x + 30) for x in (40.0, 41.0, 42.0)]
    trend = one(tmp_path, run_on("2025-02-01", *wide), run_on("2026-02-01", *wide))
    assert trend.verdict is Verdict.INCONCLUSIVE


def test_what_measurement_alone_may_explain_is_no_drift(tmp_path):
    """Each value off by 5 ms at most, in either direction: 10 ms between the two tests may be none at all."""
    old, new = [(15.0, 25.0), (15.2, 25.2), (14.9, 24.9)], [(25.0, 35.0), (25.2, 35.2), (24.9, 34.9)]
    trend = one(tmp_path, run_on("2025-02-01", *old), run_on("2026-02-01", *new), allowed=0.0001)
    assert trend.found.least < 0 < trend.found.largest
    assert trend.verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize(
    ("contents", "says"),
    [
        ([run_on("2026-02-01", *OLD)], "0 earlier and 4 new value(s)"),
        ([run_on("2025-02-01", 20), run_on("2026-02-01", *OLD)], "1 earlier and 4 new value(s)"),
        ([run_on("2025-02-01", *OLD), run_on("2026-02-01", 20)], "4 earlier and 1 new value(s)"),
        ([run_on("2025-02-01", *OLD), run_on("2026-02-01", (20, None), 21)], "without upper bound"),
        ([run_on("2025-02-01", (20, None), 21), run_on("2026-02-01", *OLD)], "without upper bound"),
        ([run_on("2025-02-01", *OLD), run_on("2026-02-01", *OLD, limit=None)], "without limit"),
        (
            [run_on("2025-02-01", (20, 20), (20, 20)), run_on("2026-02-01", (20, 20), (20, 20))],
            "no value differs",
        ),
    ],
)
def test_what_cannot_be_compared_is_no_pass(tmp_path, contents, says):
    trend = one(tmp_path, *contents)
    assert (trend.verdict, trend.found) == (Verdict.INCONCLUSIVE, None)
    assert says in trend.sentence


def test_tests_are_ordered_by_their_day_not_by_their_line(tmp_path):
    fast, slow = run_on("2025-02-01", *OLD), run_on("2026-02-01", 45, 45.5, 44)
    assert one(tmp_path, fast, slow).verdict is one(tmp_path, slow, fast).verdict is Verdict.FAIL


def test_all_earlier_tests_count_together(tmp_path):
    trend = one(
        tmp_path, run_on("2025-02-01", 20), run_on("2025-08-01", 21), run_on("2026-02-01", 45, 45.5, 44)
    )
    assert trend.earlier == (date(2025, 2, 1), date(2025, 8, 1))
    assert trend.verdict is Verdict.FAIL


def test_a_defect_of_then_makes_nobody_look_quick(tmp_path):
    """Sound, then defective, then twice as slow as sound: slower."""
    history = run_on("2025-02-01", *OLD), run_on("2025-06-01", 270, 280, 275, verdict="fail")
    now = run_on("2026-02-01", 45, 45.5, 44)
    assert one(tmp_path, *history, now).verdict is Verdict.FAIL
    assert one(tmp_path, history[1], now).sentence.startswith("0 earlier")


def test_a_defect_of_now_counts(tmp_path):
    late = run_on("2026-02-01", 270, 280, 275, verdict="fail")
    assert one(tmp_path, run_on("2025-02-01", *OLD), late).verdict is Verdict.FAIL


def test_doubtful_recordings_and_withdrawn_tests_do_not_count(tmp_path):
    slow = run_on("2026-02-01", 45, 45.5, 44, rest="inconclusive")
    assert one(tmp_path, run_on("2025-02-01", *OLD), slow).latest == date(2025, 2, 1)
    gone = one(
        tmp_path, run_on("2025-02-01", *OLD), run_on("2026-02-01", 45, 46), Withdrawn(withdraws=2, reason="x")
    )
    assert gone.latest == date(2025, 2, 1)


def test_nothing_tested_is_no_trend(tmp_path):
    assert found(tmp_path, counted("2025-01-02", "2025-06-01")) == []
    append(tmp_path / "r.jsonl", OTHER, run_on("2026-02-01", *OLD), now=at("2027-12-31"))
    assert list(trends(load_register(tmp_path / "r.jsonl"), BENCH.id)) == []


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("drift")


values = st.lists(st.floats(5, 60), min_size=2, max_size=5)


@settings(max_examples=15)
@given(values, values, st.floats(1, 30))
def test_slowing_the_last_test_down_never_makes_it_pass(folder, old, new, more):
    before = one(folder, run_on("2025-02-01", *old), run_on("2026-02-01", *new))
    after = one(folder, run_on("2025-02-01", *old), run_on("2026-02-01", *(x + more for x in new)))
    rank = [Verdict.PASS, Verdict.INCONCLUSIVE, Verdict.FAIL]
    assert rank.index(after.verdict) >= rank.index(before.verdict)


def test_the_document_is_as_its_schema_says(tmp_path):
    jsonschema.Draft202012Validator.check_schema(drift_schema())
    trend = found(tmp_path, run_on("2025-02-01", *OLD), run_on("2026-02-01", 45, 46, 47))
    register = load_register(tmp_path / "r.jsonl")
    document = drift_document(register, {BENCH.id: trend}, 0.1)
    jsonschema.validate(document, drift_schema())
    assert (document["verdict"], document["items"][0]["drift_ms"][1]) == ("fail", pytest.approx(25.75))
    alone = found(tmp_path, run_on("2026-02-01", 45))
    document = drift_document(register, {BENCH.id: alone}, 0.1)
    jsonschema.validate(document, drift_schema())
    assert (document["verdict"], document["items"][0]["drift_ms"]) == ("inconclusive", None)
