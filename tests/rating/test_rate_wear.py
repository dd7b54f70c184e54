"""Replacement dates by the section: the day decides, load-breaking stops count apart, old counts are no pass."""

from datetime import date, timedelta
from typing import Any

import pytest
from rating_benches import COVER_STOP, COVERED, changed

from interlock.errors import RatingError
from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
from interlock.rating.rate_wear import judge_wear
from interlock.rating.result import BenchRating
from interlock.rating.step import Mark
from interlock.verdict import Verdict

CONTACTOR: dict[str, Any] = {
    "source": "log book",
    "b10d": 1.3e6,
    "b10d_load_break": 6050,
    "installed": "2024-01-01",
    "since": "2025-01-01",
    "until": "2026-01-01",
    "operations": 1000,
    "load_breaks": 12,
}


def judged(today: date | None, **changes: Any) -> BenchRating:
    section = changed(COVER_STOP) | {"wear": {"k1": changed(CONTACTOR, **changes)}}
    inputs = read_rating(section)
    assert inputs.wear is not None
    return judge_wear(inputs.wear, inputs.edition, inputs.mission_time_years, today, {})


def due(found: BenchRating) -> date:
    return date.fromisoformat(str(found.steps[-1].result))


def test_the_mission_time_ends_it_at_the_latest() -> None:
    """20 years of 365 days from the day of installation (ISO 13849-1:2015, 4.5.4)."""
    found = judged(date(2026, 2, 1))
    assert due(found) == date(2024, 1, 1) + timedelta(days=7300)
    assert "mission time decides" in found.judgements[0].sentence
    assert found.verdict is Verdict.PASS


def test_load_breaks_wear_it_out_first() -> None:
    """2400 load breaks a year (upper bound about 2482) at 6050 cycles: a little under 2.45 years."""
    found = judged(date(2026, 2, 1), load_breaks=2400)
    assert timedelta(days=2.40 * 365) < due(found) - date(2024, 1, 1) < timedelta(days=2.45 * 365)
    assert "wear decides" in found.judgements[0].sentence


def test_counting_them_as_ordinary_ones_would_be_optimistic() -> None:
    apart, lumped = judged(None, load_breaks=2400), judged(None, load_breaks=0, operations=3400)
    assert due(apart) < due(lumped)


def test_the_day_itself_is_too_late() -> None:
    end = due(judged(None, load_breaks=2400))
    assert judged(end - timedelta(days=1), load_breaks=2400).verdict is Verdict.PASS
    assert judged(end, load_breaks=2400).verdict is Verdict.FAIL
    assert "replace it" in judged(end, load_breaks=2400).judgements[0].sentence


@pytest.mark.parametrize(
    ("today", "verdict"),
    [
        (None, "inconclusive"),
        (date(2025, 12, 31), "inconclusive"),  # counted until later than today
        (date(2026, 1, 1), "pass"),
        (date(2027, 2, 5), "pass"),  # 400 days
        (date(2027, 2, 6), "inconclusive"),
    ],
)
def test_a_count_holds_for_so_long_and_not_before_it_was_made(today, verdict) -> None:
    assert judged(today).verdict == verdict


def test_an_old_count_never_hides_that_the_day_has_come() -> None:
    assert judged(date(2060, 1, 1)).verdict is Verdict.FAIL


def test_a_range_of_lives_counts_by_its_short_end() -> None:
    assert due(judged(None, load_breaks=2400, b10d_load_break=[6050, 1e6])) == due(
        judged(None, load_breaks=2400)
    )


def test_nothing_counted_is_still_some_use() -> None:
    """The upper bound of no event in a year is -ln(0.05) = 3.0 a year (Garwood), so the life is finite."""
    found = judged(None, operations=0, load_breaks=0)
    assert found.steps[0].result == pytest.approx(2.9957, rel=1e-4)


@pytest.mark.parametrize(
    "changes",
    [
        {"b10d": 0},
        {"b10d": None},
        {"operations": -1},
        {"operations": 10.5},
        {"load_breaks": True},
        {"installed": "2025-06-01"},  # after the count began
        {"until": "2025-01-01"},  # no day of counting
        {"until": "01.01.2026"},
        {"installed": 20240101},
        {"count_holds_days": 0},
        {"source": ""},
    ],
)
def test_bad_input_is_an_error(changes) -> None:
    with pytest.raises(RatingError, match=r"rating\.wear\.k1"):
        judged(date(2026, 2, 1), **changes)


def test_the_whole_rating_is_no_better_than_the_wear() -> None:
    section = changed(COVER_STOP) | {"wear": {"k1": CONTACTOR}}
    supported = {"cover_stop": ["3"]}
    inputs = read_rating(section)
    assert (
        rate(inputs, supported_categories=supported, chain=COVERED, today=date(2026, 2, 1)).verdict
        is Verdict.PASS
    )
    assert (
        rate(inputs, supported_categories=supported, chain=COVERED, today=date(2060, 2, 1)).verdict
        is Verdict.FAIL
    )
    assert rate(inputs, supported_categories=supported, chain=COVERED).verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize(("decides", "said"), [("counted", True), ("larger", False), ("stated", False)])
def test_counts_that_are_to_decide_and_are_not_there_are_missed_aloud(decides, said) -> None:
    """The stated use is reckoned with, marked, and the sentence says that no count was given."""
    found = judged(date(2026, 2, 1), decides=decides)
    (one,) = found.judgements
    assert ("counts are to decide, and none was given: use as stated (log book)" in one.sentence) is said
    marks = {step.mark for step in found.steps if "a year, upper bound" in step.title}
    assert marks == {Mark.UNCOUNTED if said else Mark.GIVEN}
