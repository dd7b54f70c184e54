"""Replacement dates where a register counted: a new part starts anew, the pessimistic number decides, counts age."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rating_benches import COVER_STOP, changed

from interlock.rating.counted import CountedUse
from interlock.rating.inputs import read_rating
from interlock.rating.rate_wear import judge_wear
from interlock.rating.result import BenchRating
from interlock.rating.step import Mark, Trail
from interlock.rating.wear import Use, operations_upper_bound, replaced_by
from interlock.rating.wear_due import Due, due_dates
from interlock.verdict import Verdict

STATED: dict[str, Any] = {
    "source": "log book",
    "b10d": 1e6,
    "b10d_load_break": 1000,
    "installed": "2024-01-01",
    "since": "2024-01-01",
    "until": "2024-12-31",  # 365 days
    "operations": 1000,
    "load_breaks": 100,
}
HEAVY = operations_upper_bound(100, 1)


def counted(
    *periods: tuple[str, str, int, int], installed: str | None = None, device: str = "k1"
) -> CountedUse:
    uses = tuple(
        Use(light, heavy, date.fromisoformat(a), date.fromisoformat(b)) for a, b, light, heavy in periods
    )
    day = None if installed is None else date.fromisoformat(installed)
    return CountedUse(device, uses, "register r, entry 3", day)


def due(counts: CountedUse | None = None, trail: Trail | None = None, **changes: Any) -> Due:
    inputs = read_rating(changed(COVER_STOP) | {"wear": {"k1": changed(STATED, **changes)}})
    assert inputs.wear is not None
    known = {} if counts is None else {counts.device: counts}
    (found,) = due_dates(inputs.wear, 2015, 20.0, known, Trail() if trail is None else trail)
    return found


def judged(today: str | None, counts: CountedUse | None = None, **changes: Any) -> BenchRating:
    inputs = read_rating(changed(COVER_STOP) | {"wear": {"k1": changed(STATED, **changes)}})
    assert inputs.wear is not None
    day = None if today is None else date.fromisoformat(today)
    return judge_wear(inputs.wear, 2015, 20.0, day, {} if counts is None else {counts.device: counts})


def years_after(day: str, years: float) -> date:
    return date.fromisoformat(day) + timedelta(days=int(years * 365 + 1e-6))


def life(light: float, heavy: float) -> float:
    return 1 / (light / 1e6 + heavy / 1000)


# the arithmetic of a used life, by hand


@pytest.mark.parametrize(
    ("until", "used", "years", "mission", "expected"),
    [
        ("2025-01-01", 0.0, 10, 20, years_after("2025-01-01", 10)),
        ("2027-01-01", 0.2, 10, 20, years_after("2027-01-01", 8)),  # eight tenths of ten years are left
        ("2027-01-01", 1.0, 10, 20, date(2027, 1, 1)),  # used up that day
        ("2027-01-01", 1.1, 10, 20, years_after("2027-01-01", -1)),  # and here a year before
        ("2027-01-01", 0.2, 10, 5, years_after("2025-01-01", 5)),  # mission time from the installation
    ],
)
def test_what_is_left_of_a_life(until, used, years, mission, expected) -> None:
    found = replaced_by(date(2025, 1, 1), date.fromisoformat(until), used, years, mission)
    assert abs(found.due - expected) <= timedelta(days=1)  # the days of 365 against those of the calendar
    assert found.decided_by == ("mission time" if mission == 5 else "wear")


@given(st.integers(0, 3000), st.floats(0, 2), st.floats(0.1, 50), st.floats(0.001, 1))
def test_more_used_is_never_due_later(days, used, years, more) -> None:
    start = date(2020, 1, 1)
    until = start + timedelta(days=days)
    assert (
        replaced_by(start, until, used + more, years, 20).due
        <= replaced_by(start, until, used, years, 20).due
    )
    assert replaced_by(start, until, used, years, 20).due <= start + timedelta(days=7300)


# counts of the part in place


def test_without_a_register_it_is_as_it_was() -> None:
    """The rate as stated (upper bound) from the installation on: the formula of ISO 13849-1, C.4.2."""
    light = operations_upper_bound(1000, 1)
    assert due().found.due == years_after("2024-01-01", life(light, HEAVY))
    assert due().counts == ""


def test_a_busier_register_decides() -> None:
    found = due(counted(("2025-01-01", "2026-01-01", 1000, 400)))
    heavy = operations_upper_bound(400, 1)
    assert found.found.t10d_years == pytest.approx(life(operations_upper_bound(1000, 1), heavy))
    assert found.found.due == years_after("2024-01-01", found.found.t10d_years)
    assert "whichever is more" in found.counts


def test_each_kind_of_use_is_taken_where_it_is_more() -> None:
    """More load breaks counted, more operations stated: both decide."""
    found = due(counted(("2025-01-01", "2026-01-01", 10, 400)))
    expected = life(operations_upper_bound(1000, 1), operations_upper_bound(400, 1))
    assert found.found.t10d_years == pytest.approx(expected)


def test_a_quieter_register_is_no_excuse_unless_the_file_says_so() -> None:
    quiet = counted(("2025-01-01", "2026-01-01", 100, 4))
    assert due(quiet).found.due == due().found.due
    alone = due(quiet, decides="counted")
    assert alone.found.due > due().found.due
    assert alone.found.t10d_years == pytest.approx(
        life(operations_upper_bound(100, 1), operations_upper_bound(4, 1))
    )
    assert alone.counts == "use as counted (register r, entry 3), by the bench description"


def test_the_file_may_let_its_own_number_decide() -> None:
    found = due(counted(("2025-01-01", "2026-01-01", 9999, 999)), decides="stated")
    assert found.found == due().found
    assert "use as stated (log book), by the bench description" in found.counts


def test_a_heavy_past_stays_used_when_the_bench_grows_quiet() -> None:
    """600 load breaks of 1000 in the first year, next to none in nine more: counted, not averaged away."""
    past = counted(("2024-01-01", "2024-12-31", 0, 600), ("2024-12-31", "2034-01-01", 0, 10))
    for decides in ("larger", "counted"):
        assert due(past, decides=decides).found.used >= 610 / 1000


def test_days_without_a_count_are_reckoned_at_the_rate() -> None:
    """Counted for one year in two: the other year as much again."""
    trail = Trail()
    found = due(counted(("2025-01-01", "2026-01-01", 0, 400)), trail, decides="counted")
    rate = 1 / found.found.t10d_years
    assert found.found.used == pytest.approx(400 / 1000 + 366 / 365 * rate)  # 2024 has 366 days
    assert any("366 day(s) without a count" in step.title for step in trail.steps)


def test_a_count_from_before_the_installation_reaches_in_whole() -> None:
    """It began before the part: all of it is laid on the part, rather too much than too little."""
    found = due(counted(("2023-06-01", "2024-06-01", 0, 400)), decides="counted")
    assert found.found.used >= 400 / 1000


# a new part


def test_a_replacement_resets_the_wear() -> None:
    old = counted(("2024-01-01", "2025-01-01", 0, 2000))
    new = counted(("2024-01-01", "2025-01-01", 0, 2000), installed="2025-01-01")
    assert due(old).found.used > 0.3
    found = due(new)
    assert (found.installed, found.found.used) == (date(2025, 1, 1), 0.0)
    assert found.found.due == years_after("2025-01-01", found.found.t10d_years)  # at the rate of the old one
    assert found.found.t10d_years == due(old).found.t10d_years


def test_the_new_part_wears_by_what_was_counted_on_it() -> None:
    found = due(
        counted(
            ("2024-01-01", "2025-01-01", 0, 2000),
            ("2025-01-01", "2026-01-01", 0, 500),
            installed="2025-01-01",
        ),
        decides="counted",
    )
    assert found.found.used == pytest.approx(500 / 1000)


def test_the_mission_time_counts_from_the_replacement() -> None:
    found = due(counted(installed="2030-01-01"), operations=0, load_breaks=0)
    assert found.found.decided_by == "mission time"
    assert found.found.due == date(2030, 1, 1) + timedelta(days=7300)


def test_the_day_of_the_new_part_is_shown_beside_the_old_one() -> None:
    trail = Trail()
    due(counted(installed="2025-03-01"), trail)
    (step,) = [one for one in trail.steps if "day of the part in place" in one.title]
    assert (step.result, step.mark) == ("2025-03-01", Mark.COUNTED)
    assert "the bench description says 2024-01-01" in step.filled_in()


def test_a_replacement_alone_holds_no_count() -> None:
    found = due(counted(installed="2025-03-01"))
    assert found.counts == "use as stated (log book); register r, entry 3 holds no count"


# too few days, old counts, days to come


def test_a_few_days_are_no_year() -> None:
    few = due(counted(("2025-01-01", "2025-03-31", 10, 1)))  # 89 days
    assert few.found.t10d_years == due().found.t10d_years
    assert few.counts == "use as stated (log book); register r, entry 3 counts 89 days only"
    many = due(counted(("2025-01-01", "2025-03-31", 10, 500)))  # more than the stated year in 89 days
    assert many.found.t10d_years == pytest.approx(life(operations_upper_bound(1000, 1), 500))


@pytest.mark.parametrize(
    ("today", "counts", "changes", "verdict"),
    [
        ("2025-06-01", None, {}, "pass"),
        ("2026-02-05", None, {}, "inconclusive"),  # 401 days after the stated count
        ("2026-02-05", counted(("2025-01-01", "2026-01-01", 900, 90)), {}, "pass"),  # counted since
        (
            "2027-02-06",
            counted(("2025-01-01", "2026-01-01", 900, 90)),
            {},
            "inconclusive",
        ),  # 401 days after that
        (
            "2025-08-01",
            counted(("2024-01-01", "2024-06-01", 400, 40)),
            {},
            "pass",
        ),  # stated later than counted
        (
            "2025-08-01",
            counted(("2024-01-01", "2024-06-01", 400, 40)),
            {"decides": "counted"},
            "inconclusive",
        ),
        ("2026-02-05", counted(("2025-12-01", "2026-01-01", 9, 1)), {}, "inconclusive"),  # 31 days: no rate
        ("2026-02-05", counted(("2025-01-01", "2026-01-01", 900, 90)), {"decides": "stated"}, "inconclusive"),
        ("2026-02-05", counted(installed="2026-01-01"), {}, "inconclusive"),  # new part, old count
        ("2025-12-01", counted(("2025-01-01", "2026-01-01", 900, 90)), {}, "inconclusive"),  # a count to come
        ("2025-12-01", counted(installed="2026-01-01"), {}, "inconclusive"),  # a replacement to come
        ("2060-01-01", counted(("2025-01-01", "2026-01-01", 900, 90)), {}, "fail"),
        (None, counted(("2025-01-01", "2026-01-01", 900, 90)), {}, "inconclusive"),
    ],
)
def test_what_may_be_said_of_a_day(today, counts, changes, verdict) -> None:
    assert judged(today, counts, **changes).verdict == verdict


def test_a_worn_part_fails_and_says_where_its_counts_are_from() -> None:
    worn = counted(("2024-01-01", "2025-01-01", 0, 1001))
    (found,) = judged("2025-01-02", worn).judgements
    assert found.verdict is Verdict.FAIL
    assert "register r, entry 3" in found.sentence
    assert "replace it" in found.sentence


def test_a_new_part_passes_where_the_old_one_failed() -> None:
    worn = counted(("2024-01-01", "2025-01-01", 0, 1001), installed="2025-01-01")
    assert judged("2025-01-02", worn).verdict is Verdict.PASS


def test_the_device_may_have_another_name_than_the_entry() -> None:
    busy = counted(("2025-01-01", "2026-01-01", 1000, 400), device="main_contactor")
    assert due(busy).found == due().found
    assert due(busy, device="main_contactor").found.due < due().found.due


@given(
    st.integers(0, 5000), st.integers(0, 500), st.integers(90, 700), st.sampled_from(["larger", "counted"])
)
def test_more_load_breaks_are_never_due_later(heavy, more, days, decides) -> None:
    def day(count: int) -> date:
        until = (date(2024, 1, 1) + timedelta(days=days)).isoformat()
        return due(counted(("2024-01-01", until, 100, count)), decides=decides).found.due

    assert day(heavy + more) <= day(heavy)
    if decides == "larger":
        assert day(heavy) <= due().found.due


def test_every_number_of_the_steps_can_be_followed() -> None:
    """Each product and sum of the steps gives the result that stands beside it (plain arithmetic, no code of ours)."""
    trail = Trail()
    due(counted(("2025-01-01", "2026-01-01", 300, 400), ("2026-02-01", "2026-06-01", 100, 300)), trail)
    followed = 0
    for step in trail.steps:
        if step.formula.startswith(("1 /", "days / 365", "m1 / B1", "365 *")):
            assert eval(step.formula, {}, dict(step.numbers)) == pytest.approx(step.result)  # noqa: S307
            followed += 1
        if step.formula.startswith("the larger") or step.formula.startswith("the largest"):
            assert step.result == max(value for _, value in step.numbers)
            followed += 1
    assert followed == 8
