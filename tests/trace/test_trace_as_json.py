"""What all documents say of a trace: instants against the standard library, intervals and files as they are."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.interval import Interval
from interlock.trace.as_json import instant_json, interval_json, quality_json, source_json
from interlock.trace.model import Quality, QualityKind, Source

DAY_NS = 86_400 * 10**9
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@given(st.integers(-(10**15), 7 * 10**15), st.integers(0, 999))
def test_an_instant_is_told_to_the_nanosecond(microseconds: int, rest: int) -> None:
    """The standard library writes the same date to the microsecond."""
    when = EPOCH + timedelta(microseconds=microseconds)
    told = instant_json(microseconds * 1000 + rest)
    assert told == when.isoformat(timespec="microseconds").replace("+00:00", f"{rest:03d}Z")
    assert datetime.fromisoformat(f"{told[:-4]}+00:00") == when


@pytest.mark.parametrize(
    ("ns", "told"),
    [
        (0, "1970-01-01T00:00:00.000000000Z"),
        (-1, "1969-12-31T23:59:59.999999999Z"),
        (DAY_NS - 1, "1970-01-01T23:59:59.999999999Z"),
        (951_782_400 * 10**9, "2000-02-29T00:00:00.000000000Z"),
        (1_800_000_000 * 10**9 + 1, "2027-01-15T08:00:00.000000001Z"),
    ],
)
def test_instants_by_the_calendar(ns: int, told: str) -> None:
    assert instant_json(ns) == told


@pytest.mark.parametrize(
    ("interval", "told"),
    [(None, None), (Interval(-3, 5), [-3, 5]), (Interval(7, None), [7, None]), (Interval(0, 0), [0, 0])],
)
def test_an_interval_keeps_its_ends_and_says_where_one_is_not_known(interval: Any, told: Any) -> None:
    assert interval_json(interval) == told


def test_a_file_is_told_with_all_that_became_of_its_lines() -> None:
    source = Source("run.log", "ab" * 32, "candump", 10, 6, 3, 1)
    told = source_json(source)
    assert told == {name: getattr(source, name) for name in Source.__dataclass_fields__}
    assert told["frames"] + told["non_frames"] + told["rejected"] == told["lines_or_objects"]


@pytest.mark.parametrize("blinds", [False, True])
def test_a_doubt_is_told_whole(blinds: bool) -> None:
    doubt = Quality(QualityKind.GAP, "A", "b", Interval(1, None), "run.log:3", blinds, "It stays away.")
    told = quality_json(doubt)
    assert told.pop("span_ns") == [1, None]
    assert told.pop("kind") == "gap"
    assert told == {
        "message": "A",
        "signal": "b",
        "place": "run.log:3",
        "blinds": blinds,
        "sentence": "It stays away.",
    }
