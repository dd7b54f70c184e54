"""Test intervals follow the required level; series wiring lowers the coverage that may be claimed."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import RatingError
from interlock.rating.iso14119 import (
    masking_dc_class,
    months_later,
    proof_test_interval_months,
)


@pytest.mark.parametrize(
    ("level", "category", "months"),
    [  # recommendation for use CNB/M/11.050 (drive makers' manuals); ISO 14119:2013, 8.2 (clause from memory)
        ("e", "3", 1),
        ("e", "4", 1),
        ("d", "3", 12),
        ("d", "4", 12),  # not named there: treated as category 3
        ("c", "3", None),
        ("d", "2", None),
        ("e", 4, 1),
        ("b", "B", None),
    ],
)
def test_intervals(level, category, months) -> None:
    assert proof_test_interval_months(level, category) == months


@pytest.mark.parametrize(
    ("day", "months", "later"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2028, 1, 31), 1, date(2028, 2, 29)),
        (date(2028, 2, 29), 12, date(2029, 2, 28)),
        (date(2026, 12, 15), 1, date(2027, 1, 15)),
        (date(2026, 8, 31), 13, date(2027, 9, 30)),
    ],
)
def test_months_end_on_the_last_day_at_most(day, months, later) -> None:
    assert months_later(day, months) == later


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 240))
def test_a_month_is_never_longer_than_31_days(day, months) -> None:
    later = months_later(day, months)
    assert 28 * months <= (later - day).days <= 31 * months
    assert later.day <= day.day


@pytest.mark.parametrize("months", [0, -1, 1.5])
def test_no_other_months(months) -> None:
    with pytest.raises(RatingError):
        months_later(date(2026, 1, 1), months)


@pytest.mark.parametrize(
    ("frequent", "others", "dc"),
    [  # ISO/TR 24119:2015, Table 1: first row seen, the others from memory
        (0, 2, "medium"),
        (0, 3, "medium"),
        (0, 4, "medium"),
        (0, 5, "low"),
        (0, 30, "low"),
        (0, 31, "none"),
        (1, 1, "medium"),
        (1, 2, "low"),
        (1, 3, "low"),
        (1, 4, "low"),
        (1, 5, "none"),
        (2, 0, "none"),
        (2, 7, "none"),
        (0, 1, "high"),  # a single guard: nothing in series
        (1, 0, "high"),
    ],
)
def test_masking(frequent, others, dc) -> None:
    assert masking_dc_class(frequent, others) == dc


@given(st.integers(0, 3), st.integers(0, 40))
def test_more_guards_never_earn_more(frequent, others) -> None:
    order = ("none", "low", "medium", "high")
    if frequent + others:
        now = order.index(masking_dc_class(frequent, others))
        assert order.index(masking_dc_class(frequent, others + 1)) <= now
        assert order.index(masking_dc_class(frequent + 1, others)) <= now


@pytest.mark.parametrize(("frequent", "others"), [(0, 0), (-1, 2), (1, -1), (0.5, 2), (None, 1)])
def test_odd_guards(frequent, others) -> None:
    with pytest.raises(RatingError):
        masking_dc_class(frequent, others)


@pytest.mark.parametrize(
    ("level", "category"), [("f", "3"), ("E", "4"), ("e", "5"), (None, "4"), ("e", None)]
)
def test_odd_levels(level, category) -> None:
    with pytest.raises(RatingError):
        proof_test_interval_months(level, category)
