"""Days of replacement of the parts in channels: the earlier of T10d and mission time, or of a planned replacement.

Worked figures: ISO 13849-1, C.4.2: a button of B10d 1e5 that operates 7680 times a year has T10d 13.02 years and is to
be replaced at 13 years (reference figures 1.13 and 1.14); a contactor of 1.3e6 lives 169 years, so 20 years of mission
time end it. A year is 365 days.
"""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rating_benches import COVER_STOP, COVERED, PROVEN, changed

from interlock.errors import RatingError
from interlock.rating.counted import CountedUse
from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
from interlock.rating.rate_parts import TITLE, parts_due
from interlock.rating.result import BenchRating, RatingResult
from interlock.rating.step import Mark, Trail
from interlock.rating.wear import Use
from interlock.verdict import Verdict

DAY = date(2020, 3, 1)
YEARS = timedelta(days=365)
LATER = date(2026, 2, 1)


def section(**parts: dict[str, Any]) -> dict[str, Any]:
    """The cover stop, some of its parts with entries of their own."""
    found = changed(COVER_STOP)
    for name, entries in parts.items():
        found["parts"][name].update(entries)
    return found


def rated(
    today: date | None = LATER, counts: dict[str, CountedUse] | None = None, **parts: Any
) -> RatingResult:
    return rate(
        read_rating(section(**parts)),
        supported_categories=PROVEN,
        chain=COVERED,
        today=today,
        counts=counts,
    )


def replacing(found: RatingResult) -> BenchRating:
    (one,) = [one for one in found.others if one.name == TITLE]
    return one


INSTALLED = {"installed": str(DAY)}
BUTTON = {"b10d": 1e5, **INSTALLED}  # 240 days of 8 h, one operation in 900 s: 7680 a year


@pytest.mark.parametrize(
    ("entries", "years", "by"),
    [
        (INSTALLED, 20.0, "mission time"),  # switch of 2e6: T10d 260 years
        (BUTTON, 13.0208333, "T10d"),
        ({**BUTTON, "replaced_every_years": 5.0}, 5.0, "planned replacement"),
        ({**BUTTON, "replaced_every_years": 15.0}, 13.0208333, "T10d"),
        ({**INSTALLED, "replaced_every_years": 30.0}, 20.0, "mission time"),
    ],
)
def test_the_earliest_decides(entries, years, by) -> None:
    (one,) = parts_due(read_rating(section(switch_1=entries)), {}, Trail())
    assert (one.name, one.installed, one.decided_by) == ("switch_1", DAY, by)
    assert one.years == pytest.approx(years)
    assert one.due == DAY + timedelta(days=int(years * 365))


def test_a_part_that_does_not_wear_ends_with_the_mission_time() -> None:
    (one,) = parts_due(read_rating(section(drive=INSTALLED)), {}, Trail())
    assert (one.due, one.decided_by) == (DAY + 20 * YEARS, "mission time")


@pytest.mark.parametrize(
    ("today", "verdict", "said"),
    [
        (
            DAY + 20 * YEARS - timedelta(days=1),
            Verdict.PASS,
            "is to be replaced by 2040-02-25 (mission time decides).",
        ),
        (DAY + 20 * YEARS, Verdict.FAIL, "that day has come (2040-02-25): replace it."),
        (DAY - timedelta(days=1), Verdict.INCONCLUSIVE, "which is after 2020-02-29: correct the day."),
        (None, Verdict.INCONCLUSIVE, "the day to judge it on was not given."),
    ],
)
def test_the_day_itself_is_too_late(today, verdict, said) -> None:
    found = replacing(rated(today, switch_1=INSTALLED))
    (judged,) = found.judgements
    assert (judged.verdict, found.verdict) == (verdict, verdict)
    assert judged.sentence.endswith(said)
    assert judged.clause.startswith("ISO 13849-1:2015, 4.5.4")


def test_the_rating_is_no_better_than_its_parts() -> None:
    """Should fail: the level holds, and a part has been in place for longer than it lasts."""
    plain = rated(DAY + 14 * YEARS)
    worn = rated(DAY + 14 * YEARS, switch_1={**BUTTON, "replaced_every_years": 13.0})
    assert plain.verdict is Verdict.PASS
    assert (worn.functions[0].verdict, worn.verdict) == (Verdict.PASS, Verdict.FAIL)


def test_without_any_day_nothing_is_judged_and_it_is_said() -> None:
    found = rated()
    assert all(one.name != TITLE for one in found.others)
    (said,) = [one for one in found.functions[0].cautions if "No day of replacement" in one]
    assert said == (
        "No day of replacement can be told for switch_1, switch_2, contactor_1, drive: state the day of installation "
        "(installed)."
    )


def test_parts_that_have_a_day_are_left_out_of_what_is_missing() -> None:
    found = rated(switch_1=INSTALLED, switch_2=INSTALLED, contactor_1=INSTALLED)
    (said,) = [one for one in found.functions[0].cautions if "No day of replacement" in one]
    assert "told for drive:" in said
    every = dict.fromkeys(("switch_1", "switch_2", "contactor_1", "drive"), INSTALLED)
    assert not any("No day of replacement" in one for one in rated(**every).functions[0].cautions)
    assert [one.verdict for one in replacing(rated(**every)).judgements] == [Verdict.PASS] * 4


def test_a_part_whose_failure_is_excluded_has_no_life_to_count() -> None:
    excluded = {"fault_exclusion": "direct opening", "source": "maker", **INSTALLED}
    inputs = section()
    inputs["parts"]["switch_1"] = excluded
    assert parts_due(read_rating(inputs), {}, Trail()) == ()


def test_a_replacement_that_was_entered_begins_the_life_anew() -> None:
    """By the register, for the part's own device; an earlier entry than what is stated changes nothing."""
    own = {**INSTALLED, "operations": {"per_year": 100.0, "device": "cover", "source": "counted"}}
    entered = {
        day: CountedUse("cover", (), "register r.jsonl, entry 9", day)
        for day in (DAY + 3 * YEARS, DAY - 3 * YEARS)
    }
    for day, expected in zip(entered, (DAY + 3 * YEARS, DAY), strict=True):
        trail = Trail()
        (one,) = parts_due(read_rating(section(switch_1=own)), {"cover": entered[day]}, trail)
        assert one.installed == expected
        assert any(step.mark is Mark.COUNTED for step in trail.steps) is (expected > DAY)
    bare = {key: value for key, value in own.items() if key != "installed"}
    (one,) = parts_due(read_rating(section(switch_1=bare)), {"cover": entered[DAY + 3 * YEARS]}, Trail())
    assert one.installed == DAY + 3 * YEARS


def test_counted_use_shortens_the_life() -> None:
    """15 000 operations a year as counted, at least, of a part of 1e5: under 6.7 years instead of 13."""
    own = {**BUTTON, "operations": {"per_year": 7680.0, "device": "cover", "source": "estimated"}}
    counted = CountedUse("cover", (Use(15_000, 0, DAY, DAY + YEARS),), "register")
    found = rated(DAY + 8 * YEARS, {"cover": counted}, switch_1={**own, "replaced_every_years": 12.0})
    (judged,) = replacing(found).judgements
    assert judged.verdict is Verdict.FAIL
    assert "T10d decides" in judged.sentence


@pytest.mark.parametrize("installed", ["2020-13-01", "1.3.2020", 2020, True])
def test_a_day_that_is_none_is_refused(installed) -> None:
    with pytest.raises(RatingError, match="installed"):
        read_rating(section(switch_1={"installed": installed}))


@given(st.dates(date(1990, 1, 1), date(2050, 1, 1)), st.floats(0.2, 30))
def test_no_day_lies_beyond_any_of_the_limits(installed, planned) -> None:
    entries = {"b10d": 1e5, "installed": str(installed), "replaced_every_years": planned}
    (one,) = parts_due(read_rating(section(switch_1=entries)), {}, Trail())
    assert installed < one.due <= installed + timedelta(days=365 * min(planned, 13.03, 20))
    assert one.due > installed + timedelta(days=365 * min(planned, 13.02, 20) - 1.01)
