"""Operations of a part, stated and counted: the pessimistic one decides unless the file says otherwise."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rating_benches import COVER_STOP, COVERED, PROVEN, changed

from interlock.errors import RatingError
from interlock.rating.counted import CountedUse
from interlock.rating.inputs import read_rating
from interlock.rating.iso13849 import mttfd_from_b10d
from interlock.rating.rate import rate
from interlock.rating.result import RatingResult
from interlock.rating.step import Mark
from interlock.rating.wear import Use, operations_upper_bound

DAY = date(2025, 1, 1)
NAME = "contactor_1"  # B10d 1.3e6


def use(*counts: tuple[int, int], load_breaks: int = 0) -> CountedUse:
    """Counts of (days, operations) one after the other."""
    at, periods = DAY, []
    for days, operations in counts:
        periods.append(Use(operations, load_breaks, at, at + timedelta(days=days)))
        at += timedelta(days=days)
    return CountedUse("k1", tuple(periods), "register r.jsonl, entry 7")


def rated(counts: CountedUse | None, **operations: Any) -> RatingResult:
    section = changed(COVER_STOP)
    stated: dict[str, Any] = {"per_year": 5000.0, "device": "k1", "source": "estimated"}
    section["parts"][NAME]["operations"] = {**stated, **operations}
    inputs = read_rating(section)
    return rate(
        inputs,
        supported_categories=PROVEN,
        chain=COVERED,
        counts=None if counts is None else {"k1": counts},
    )


def steps(result: RatingResult) -> dict[str, Any]:
    return {one.title: one for one in result.functions[0].steps if one.title.startswith(f"{NAME}: ")}


def used(result: RatingResult) -> float:
    """The operations a year from which the MTTFd was computed."""
    return dict(steps(result)[f"{NAME}: MTTFd"].numbers)["nop"]


YEAR = (365, 8000)
UPPER = operations_upper_bound(8000, 1)


def test_more_counted_than_stated_decides_and_is_shown() -> None:
    found = rated(use(YEAR))
    assert used(found) == UPPER
    shown = steps(found)
    counted = shown[f"{NAME}: operations a year as counted, upper bound (95 %)"]
    assert (counted.mark, dict(counted.numbers)) == (Mark.COUNTED, {"n": 8000, "days": 365})
    assert counted.source.startswith("register r.jsonl, entry 7; 2025-01-01 to 2026-01-01")
    stated = shown[f"{NAME}: operations stated"]
    assert (stated.mark, stated.result, stated.source) == (Mark.GIVEN, 5000, "estimated")
    last = shown[f"{NAME}: operations"]
    assert last.filled_in() == f"the largest of 5000, {UPPER:.6g}"
    assert shown[f"{NAME}: MTTFd"].result == mttfd_from_b10d(1.3e6, UPPER)


def test_less_counted_than_stated_changes_no_number() -> None:
    found = rated(use((365, 100)))
    assert used(found) == 5000
    assert found.functions[0].pfhd_per_h == rated(None).functions[0].pfhd_per_h
    assert steps(found)[f"{NAME}: operations"].formula.startswith("the largest of")


@pytest.mark.parametrize(
    ("decides", "counts", "expected"),
    [
        ("larger", (365, 8000), UPPER),
        ("larger", (365, 100), 5000),
        ("counted", (365, 8000), UPPER),
        ("counted", (365, 100), operations_upper_bound(100, 1)),
        ("stated", (365, 8000), 5000),
        ("stated", (365, 100), 5000),
    ],
)
def test_what_the_file_lets_decide(decides, counts, expected) -> None:
    assert used(rated(use(counts), decides=decides)) == expected


@pytest.mark.parametrize(
    "operations", [{}, {"per_year": None, "days_per_year": 200, "hours_per_day": 10, "cycle_time_s": 1440}]
)
def test_counts_that_are_to_decide_and_are_not_there_are_missed_aloud(operations) -> None:
    """`decides: counted` without any count: the stated number, with a mark of its own and a sentence."""
    missed = rated(None, decides="counted", **operations)
    assert used(missed) == 5000
    assert steps(missed)[f"{NAME}: operations"].mark is Mark.UNCOUNTED
    (said,) = [one for one in missed.functions[0].cautions if "none was given" in one]
    assert said == (
        f"{NAME}: the counts of its device are to decide how often it is used, and none was given; the number stated "
        "was used (estimated)."
    )


@pytest.mark.parametrize(
    ("counts", "decides"),
    [(use(YEAR), "counted"), (use((89, 100)), "counted"), (None, "larger"), (None, "stated")],
)
def test_where_counts_were_given_or_need_not_be_nothing_is_missed(counts, decides) -> None:
    found = rated(counts, decides=decides)
    assert not any("none was given" in one for one in found.functions[0].cautions)
    assert all(one.mark is not Mark.UNCOUNTED for one in steps(found).values())


def test_counts_of_another_device_are_none_of_this_one() -> None:
    section = changed(COVER_STOP)
    section["parts"][NAME]["operations"] = {"per_year": 5000.0, "device": "k1", "decides": "counted"}
    found = rate(read_rating(section), supported_categories=PROVEN, chain=COVERED, counts={"k2": use(YEAR)})
    assert any("none was given" in one for one in found.functions[0].cautions)


@pytest.mark.parametrize("decides", ["larger", "counted"])
def test_a_few_days_are_no_year(decides) -> None:
    """89 days: the stated number is used, and the step says why; more than a year's number within them is more."""
    few = rated(use((89, 1000)), decides=decides)
    assert used(few) == 5000
    assert (
        "89 days were counted, a year is reckoned from 90 or more"
        in steps(few)[f"{NAME}: operations counted"].formula
    )
    assert used(rated(use((89, 6000)), decides=decides)) == 6000
    assert used(rated(use((90, 1300)), decides=decides)) > 5000


def test_load_breaks_are_operations_too() -> None:
    assert used(rated(use(YEAR, load_breaks=500))) == operations_upper_bound(8500, 1)


def test_a_busier_quarter_counts() -> None:
    found = rated(use((3650, 1000), (100, 4000)))
    assert used(found) == pytest.approx(4000 * 3.65)
    latest = steps(found)[f"{NAME}: operations a year by the latest counts"]
    assert dict(latest.numbers) == {"n": 4000, "days": 100}


def test_times_stated_stand_beside_counts_too() -> None:
    times = {"per_year": None, "days_per_year": 240.0, "hours_per_day": 8.0, "cycle_time_s": 900.0}
    section = changed(COVER_STOP)
    section["parts"][NAME]["operations"] = {k: v for k, v in times.items() if v} | {"device": "k1"}
    found = rate(
        read_rating(section), supported_categories=PROVEN, chain=COVERED, counts={"k1": use((365, 100))}
    )
    assert used(found) == 7680  # 240 * 8 * 3600 / 900, ISO 13849-1, C.4.2
    assert steps(found)[f"{NAME}: operations stated"].result == 7680


def test_a_range_stated_counts_by_its_busy_end() -> None:
    assert used(rated(use((365, 5500)), per_year=[4000.0, 7000.0])) == 7000
    assert used(rated(use(YEAR), per_year=[4000.0, 7000.0])) == UPPER


@pytest.mark.parametrize("counts", [{}, {"k2": use(YEAR)}, {"k1": use()}])
def test_without_counts_of_the_device_the_stated_number_is_used(counts) -> None:
    section = changed(COVER_STOP)
    section["parts"][NAME]["operations"] = {"per_year": 5000.0, "device": "k1"}
    found = rate(read_rating(section), supported_categories=PROVEN, chain=COVERED, counts=counts)
    assert used(found) == 5000
    assert f"{NAME}: operations counted" not in steps(found)


def test_a_part_that_names_no_device_has_no_counts() -> None:
    assert used(rated(use(YEAR), device=None)) == 5000


def test_what_decides_is_named_with_its_range() -> None:
    """The count is uncertain from its mean to its bound, so its effect is that of a stated range."""
    table = {one.name: one for one in rated(use((365, 80_000))).functions[0].effects}
    found = table[f"{NAME}.operations"]
    assert (found.stated_range, found.used) == (True, operations_upper_bound(80_000, 1))
    assert found.if_better == pytest.approx(80_000)


def test_nothing_counted_is_some_use_all_the_same() -> None:
    """No operation in a year: at most -ln(0.05) = 3.0 a year (Garwood)."""
    assert used(rated(use((365, 0)), decides="counted")) == pytest.approx(2.9957, rel=1e-4)


@given(
    st.integers(0, 100_000),
    st.integers(1, 2000),
    st.integers(1, 100_000),
    st.sampled_from(["larger", "counted"]),
)
def test_counts_never_better_the_pessimistic_number(count, days, stated, decides) -> None:
    """With 'larger' never below what is stated; whatever decides, never below what was counted a year."""
    inputs = {"per_year": float(stated), "decides": decides}
    value = used(rated(use((days, count)), **inputs))
    if decides == "larger":
        assert value >= stated
    if days >= 90:
        assert value >= count * 365 / days
    else:
        assert value >= max(stated, count)


@pytest.mark.parametrize("wrong", [{"decides": "best"}, {"device": ""}, {"device": 3}])
def test_bad_input(wrong) -> None:
    with pytest.raises(RatingError, match=r"parts\.contactor_1\.operations"):
        rated(None, **wrong)
