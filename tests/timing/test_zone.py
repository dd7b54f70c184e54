"""Local dates across the changes of summer time: said, never guessed.

Dates of the changes from the published rules: EU directive 2000/84/EC (01:00 UTC on the last Sundays of March and
October), US Energy Policy Act of 2005 (02:00 local on the second Sunday of March and the first of November).
"""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.interval import Interval
from interlock.timing.inputs import TimingError
from interlock.timing.zone import DateKind, anywhere, local_date, offset_changes

BERLIN, NEW_YORK, SYDNEY = "Europe/Berlin", "America/New_York", "Australia/Sydney"
HOUR = 3600 * 10**9


def at(*fields) -> datetime:
    return datetime(*fields)  # noqa: DTZ001 - a date without an offset is what is tested


def utc_ns(*fields) -> int:
    return (
        (datetime(*fields, tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) * 1000
    )


@pytest.mark.parametrize(
    ("date", "zone", "kind"),
    [
        (at(2024, 10, 27, 1, 59, 59), BERLIN, DateKind.UNIQUE),
        (at(2024, 10, 27, 2, 0), BERLIN, DateKind.AMBIGUOUS),
        (at(2024, 10, 27, 2, 59, 59), BERLIN, DateKind.AMBIGUOUS),
        (at(2024, 10, 27, 3, 0), BERLIN, DateKind.UNIQUE),
        (at(2024, 3, 31, 1, 59, 59), BERLIN, DateKind.UNIQUE),
        (at(2024, 3, 31, 2, 0), BERLIN, DateKind.NON_EXISTENT),
        (at(2024, 3, 31, 2, 59, 59), BERLIN, DateKind.NON_EXISTENT),
        (at(2024, 3, 31, 3, 0), BERLIN, DateKind.UNIQUE),
        (at(2024, 11, 3, 1, 30), NEW_YORK, DateKind.AMBIGUOUS),
        (at(2024, 3, 10, 2, 30), NEW_YORK, DateKind.NON_EXISTENT),
        (at(2024, 4, 7, 2, 30), SYDNEY, DateKind.AMBIGUOUS),
        (at(2024, 10, 27, 2, 30), "UTC", DateKind.UNIQUE),
        (at(2024, 10, 27, 2, 30), "Asia/Tokyo", DateKind.UNIQUE),
    ],
)
def test_kinds(date, zone, kind) -> None:
    found = local_date(date, zone)
    assert found.kind is kind
    assert len(found.instants_ns) == {"non-existent": 0, "unique": 1, "ambiguous": 2}[kind]
    assert zone in found.sentence


def test_both_instants_of_an_ambiguous_date() -> None:
    """02:30 on that night is 00:30 UTC in summer time and 01:30 UTC in winter time."""
    found = local_date(at(2024, 10, 27, 2, 30), BERLIN)
    assert found.instants_ns == (utc_ns(2024, 10, 27, 0, 30), utc_ns(2024, 10, 27, 1, 30))
    assert "shown twice" in found.sentence


def test_summer_and_winter_offsets() -> None:
    assert local_date(at(2024, 7, 1, 12, 0), BERLIN).instants_ns == (utc_ns(2024, 7, 1, 10, 0),)
    assert local_date(at(2024, 1, 1, 12, 0), BERLIN).instants_ns == (utc_ns(2024, 1, 1, 11, 0),)


def test_microseconds_are_kept() -> None:
    found = local_date(at(2024, 7, 1, 12, 0, 0, 123456), BERLIN)
    assert found.instants_ns[0] % 10**9 == 123_456_000


@given(
    st.datetimes(datetime(1971, 1, 1), datetime(2037, 1, 1)),  # noqa: DTZ001 - as above
    st.sampled_from([BERLIN, NEW_YORK, SYDNEY, "Asia/Kolkata", "Pacific/Chatham", "America/St_Johns"]),
)
def test_every_instant_found_shows_the_date_and_lies_anywhere(date, zone) -> None:
    from zoneinfo import ZoneInfo

    for instant in local_date(date, zone).instants_ns:
        shown = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=instant // 1000)
        assert shown.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == date
        assert instant in anywhere(date)


def test_anywhere_is_26_hours_wide() -> None:
    """Offsets in use go from -12 h to +14 h."""
    noon = utc_ns(2024, 7, 1, 12, 0)
    assert anywhere(at(2024, 7, 1, 12, 0)) == Interval(noon - 14 * HOUR, noon + 12 * HOUR)
    kiribati = local_date(at(2024, 7, 1, 12, 0), "Pacific/Kiritimati").instants_ns[0]
    assert kiribati == noon - 14 * HOUR


def test_changes_within_a_year() -> None:
    found = offset_changes(BERLIN, Interval(utc_ns(2024, 1, 1), utc_ns(2025, 1, 1)))
    assert [one.at_ns for one in found] == [utc_ns(2024, 3, 31, 1, 0), utc_ns(2024, 10, 27, 1, 0)]
    assert [one.by for one in found] == [timedelta(hours=1), timedelta(hours=-1)]


def test_a_log_that_runs_across_the_change() -> None:
    night = Interval(utc_ns(2024, 10, 27, 0, 17), utc_ns(2024, 10, 27, 1, 0))
    assert [one.at_ns for one in offset_changes(BERLIN, night)] == [night.hi]
    assert offset_changes(BERLIN, Interval(night.lo, night.hi - 10**9)) == ()
    assert offset_changes("UTC", night) == ()


def test_half_an_hour_is_a_change_too() -> None:
    """Lord Howe Island changes by 30 minutes."""
    found = offset_changes("Australia/Lord_Howe", Interval(utc_ns(2024, 1, 1), utc_ns(2025, 1, 1)))
    assert {abs(one.by) for one in found} == {timedelta(minutes=30)}


@pytest.mark.parametrize("zone", ["Europe/Nowhere", "", "../etc", "CEST"])
def test_unknown_zones(zone) -> None:
    with pytest.raises(TimingError, match="IANA"):
        local_date(at(2024, 1, 1), zone)


@pytest.mark.parametrize(
    "call",
    [
        lambda: local_date(datetime(2024, 1, 1, tzinfo=UTC), BERLIN),
        lambda: anywhere(datetime(2024, 1, 1, tzinfo=timezone(timedelta(hours=2)))),
        lambda: local_date(at(1, 1, 1), BERLIN),
        lambda: anywhere(at(9999, 12, 31)),
        lambda: offset_changes(BERLIN, Interval(0, None)),
        lambda: offset_changes(BERLIN, Interval(0, 2**62)),
        lambda: offset_changes(BERLIN, Interval(-(2**62), 0)),
    ],
)
def test_odd_input(call) -> None:
    with pytest.raises(TimingError):
        call()
