"""Replacement dates against a part that is worn day by day: the same life, walked instead of computed."""

from datetime import date, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from rating_benches import COVER_STOP, changed

from interlock.rating.counted import CountedUse
from interlock.rating.inputs import read_rating
from interlock.rating.step import Trail
from interlock.rating.wear import Use
from interlock.rating.wear_due import Due, due_dates

INSTALLED = date(2024, 1, 1)
LIGHT, HEAVY = 1e5, 1000.0
MISSION = 20 * 365


def computed(periods: list[tuple[int, int, int, int]], **changes: Any) -> Due:
    """By the package; periods are (days left out before, days counted, operations, load breaks)."""
    uses, at = [], INSTALLED
    for gap, days, light, heavy in periods:
        since = at + timedelta(days=gap)
        at = since + timedelta(days=days)
        uses.append(Use(light, heavy, since, at))
    wear = {
        "source": "log book",
        "b10d": LIGHT,
        "b10d_load_break": HEAVY,
        "installed": "2024-01-01",
        "since": "2024-01-01",
        "until": "2024-12-31",
        "operations": 100,
        "load_breaks": 1,
    }
    inputs = read_rating(changed(COVER_STOP) | {"wear": {"k1": {**wear, **changes}}})
    assert inputs.wear is not None
    counts = {"k1": CountedUse("k1", tuple(uses), "register")}
    (found,) = due_dates(inputs.wear, 2015, 20.0, counts, Trail())
    return found


def walked(periods: list[tuple[int, int, int, int]], a_day: float) -> tuple[float, int]:
    """Wear by the last count, and the day of the life's end: counted days as counted, all others at the rate."""
    worn, today, end = 0.0, 0, None
    for gap, days, light, heavy in periods:
        for share, length in ((a_day, gap), ((light / LIGHT + heavy / HEAVY) / days, days)):
            for _ in range(length):
                worn, today = worn + share, today + 1
    used = worn
    if worn < 1:
        end = today
        while worn + a_day <= 1 + 1e-9 and end < MISSION:
            worn, end = worn + a_day, end + 1
    return used, MISSION if end is None else min(end, MISSION)


parts = st.tuples(st.integers(0, 200), st.integers(1, 400), st.integers(0, 20_000), st.integers(0, 300))


@settings(max_examples=40)
@given(st.lists(parts, min_size=1, max_size=5).filter(lambda all_: sum(one[1] for one in all_) >= 90))
def test_a_life_walked_day_by_day_ends_on_the_day_computed(periods) -> None:
    found = computed(periods, decides="counted")
    used, end = walked(periods, 1 / (found.found.t10d_years * 365))
    assert abs(found.found.used - used) < 1e-6
    if used < 1:
        assert abs((found.found.due - INSTALLED).days - end) <= 1  # the day that rounding falls on
    else:
        assert found.found.due <= found.until


@settings(max_examples=40)
@given(st.lists(parts, min_size=1, max_size=5).filter(lambda all_: sum(one[1] for one in all_) >= 90))
def test_the_larger_rate_never_ends_later_than_what_was_counted(periods) -> None:
    cautious, counted = computed(periods), computed(periods, decides="counted")
    assert cautious.found.due <= counted.found.due + timedelta(days=1)
    assert cautious.found.used >= counted.found.used - 1e-9
