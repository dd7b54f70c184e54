"""Wear: shares of a life add up, load breaks count apart, dates come from the numbers alone."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from interlock.errors import RatingError
from interlock.rating.iso13849 import t10d
from interlock.rating.wear import (
    DAYS_PER_YEAR,
    Replacement,
    Use,
    operations_upper_bound,
    replaced_by,
    t10d_of_mix,
    wear_fraction,
)

YEAR = Use(7680, 12, date(2025, 1, 1), date(2026, 1, 1))


def replacement(
    use: Use, *, installed: date, b10d: float, b10d_load_break: float, mission=20.0
) -> Replacement:
    """By the upper bounds of both counts, the time before them reckoned at the same rates."""
    rates = (operations_upper_bound(one, use.years) for one in (use.operations, use.load_breaks))
    life = t10d_of_mix(*rates, b10d, b10d_load_break)
    used = (use.until - installed).days / DAYS_PER_YEAR / life
    return replaced_by(installed, use.until, used, life, mission)


def test_without_load_breaks_it_is_t10d_of_the_standard() -> None:
    """ISO 13849-1, C.4.2: B10d 1e5 at 7680 operations a year is 13.02 years."""
    assert t10d_of_mix(7680, 0, 1e5, 1e3) == pytest.approx(t10d(1e5, 7680))
    assert t10d_of_mix(7680, 0, 1e5, 1e3) == pytest.approx(13.02, rel=0.001)


def test_load_breaks_use_their_own_life() -> None:
    """7680 light at 2e7 and 12 load breaks at 6050 (Table C.1): 1/(3.84e-4 + 1.983e-3) = 422.4 years."""
    assert t10d_of_mix(7680, 12, 2e7, 6050) == pytest.approx(422.4, rel=0.001)


def test_emergency_stop_used_as_off_switch() -> None:
    """Same bench, ten load breaks a working day: 2400 a year wear it out in 2.5 years."""
    assert t10d_of_mix(7680, 2400, 2e7, 6050) == pytest.approx(2.518, rel=0.001)


@given(st.floats(0, 1e5), st.floats(0, 1e4), st.floats(1e3, 1e7), st.floats(1e3, 1e7))
def test_the_life_is_used_up_at_t10d(light, heavy, b10d, b10d_break) -> None:
    if light / b10d + heavy / b10d_break > 1e-9:
        years = t10d_of_mix(light, heavy, b10d, b10d_break)
        assert wear_fraction(light * years, heavy * years, b10d, b10d_break) == pytest.approx(1)


def test_wear_until_now() -> None:
    assert wear_fraction(50_000, 605, 1e5, 6050) == pytest.approx(0.6)
    assert wear_fraction(0, 0, 1e5, 6050) == 0


@pytest.mark.parametrize("count", [0, 1, 3, 12, 100, 7680])
def test_upper_bound_of_a_count_against_the_poisson_distribution(count) -> None:
    """At the bound, a count this low or lower has 5 % probability (scipy's Poisson distribution as oracle)."""
    bound = operations_upper_bound(count, 2.0)
    assert poisson.cdf(count, bound * 2.0) == pytest.approx(0.05, rel=1e-6)
    assert bound > count / 2.0


def test_textbook_bound_of_no_event() -> None:
    """Rule of three: no event seen, at most about 3 in the time (2.996 = -ln 0.05)."""
    assert operations_upper_bound(0, 1) == pytest.approx(-math.log(0.05))


@given(st.integers(0, 10_000), st.floats(0.1, 20), st.floats(1.01, 5))
def test_longer_watching_narrows_the_bound(count, years, factor) -> None:
    assert operations_upper_bound(count, years * factor) < operations_upper_bound(count, years)
    assert operations_upper_bound(count + 1, years) > operations_upper_bound(count, years)


def test_replacement_by_wear() -> None:
    found = replacement(YEAR, installed=date(2025, 1, 1), b10d=1e5, b10d_load_break=6050)
    light, heavy = operations_upper_bound(7680, 1), operations_upper_bound(12, 1)
    assert found.decided_by == "wear"
    assert found.t10d_years == pytest.approx(1 / (light / 1e5 + heavy / 6050))
    assert found.due == date(2025, 1, 1).fromordinal(
        date(2025, 1, 1).toordinal() + int(found.t10d_years * 365)
    )
    assert found.due < date(2038, 1, 10)  # 13.02 years without load breaks and without doubt
    assert found.used == pytest.approx(1 / found.t10d_years)


def test_replacement_by_mission_time() -> None:
    found = replacement(YEAR, installed=date(2025, 1, 1), b10d=2e7, b10d_load_break=1e5)
    assert found.decided_by == "mission time"
    assert found.due == date(2044, 12, 27)  # 20 years of 365 days


def test_an_old_part_is_reckoned_from_its_installation() -> None:
    found = replacement(YEAR, installed=date(2015, 1, 1), b10d=1e5, b10d_load_break=6050)
    assert found.used > 0.8
    assert found.due < date(2028, 1, 1)


@given(st.integers(0, 20_000), st.integers(0, 500), st.floats(1e3, 1e8), st.floats(1.01, 10))
def test_more_use_never_postpones_the_replacement(count, breaks, b10d, factor) -> None:
    day, since = date(2025, 1, 1), date(2026, 1, 1)
    now = replacement(Use(count, breaks, day, since), installed=day, b10d=b10d, b10d_load_break=6050)
    more = replacement(Use(count + 100, breaks, day, since), installed=day, b10d=b10d, b10d_load_break=6050)
    harder = replacement(Use(count, breaks + 10, day, since), installed=day, b10d=b10d, b10d_load_break=6050)
    better = replacement(
        Use(count, breaks, day, since), installed=day, b10d=b10d * factor, b10d_load_break=6050
    )
    assert max(more.due, harder.due) <= now.due <= better.due


@pytest.mark.parametrize(
    "call",
    [
        lambda: t10d_of_mix(0, 0, 1e5, 1e5),  # no use, no rate
        lambda: t10d_of_mix(-1, 0, 1e5, 1e5),
        lambda: t10d_of_mix(1, 0, 0, 1e5),
        lambda: t10d_of_mix(1, 0, 1e5, None),
        lambda: wear_fraction(-1, 0, 1e5, 1e5),
        lambda: wear_fraction(math.nan, 0, 1e5, 1e5),
        lambda: operations_upper_bound(-1, 1),
        lambda: operations_upper_bound(1.5, 1),
        lambda: operations_upper_bound(1, 0),
        lambda: operations_upper_bound(1, 1, confidence=1.0),
        lambda: replaced_by(date(2025, 1, 1), date(2026, 1, 1), 0.1, 10, 175_200),  # hours for years
        lambda: replaced_by(date(9990, 1, 1), date(9991, 1, 1), 0.1, 100, 100),
    ],
)
def test_bad_input(call) -> None:
    with pytest.raises(RatingError):
        call()


def test_a_date_beyond_the_calendar_is_an_error() -> None:
    use = Use(1, 0, date(9990, 1, 1), date(9991, 1, 1))
    with pytest.raises(RatingError, match="no calendar"):
        replacement(use, installed=date(9990, 1, 1), b10d=1e9, b10d_load_break=1e9)


def test_counts_need_a_time() -> None:
    with pytest.raises(RatingError, match="at least one day"):
        _ = Use(5, 0, date(2026, 1, 1), date(2026, 1, 1)).years
