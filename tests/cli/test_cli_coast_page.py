"""Stops from maximum speed on the terminal: ends rounded outwards, reasons where there is no time."""

from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from interlock.cli.coast_page import show_coast_downs
from interlock.interval import Interval
from interlock.replay.coasting import CoastDown

MS = 1_000_000
REFUSED = CoastDown(
    "stop", "shaft", Interval(1_500 * MS, 1_501 * MS), 6_000 * MS, 3000.0, "the record does not fall"
)
TOLD = replace(
    REFUSED,
    why="",
    tested_speed=1440.4,
    before=Interval(1, 2),
    taken=Interval(4_000 * MS, 5_000 * MS),
    holds=True,
)


def printed(*found: CoastDown) -> str:
    out = StringIO()
    show_coast_downs(Console(file=out, width=100, markup=False, highlight=False), found)
    return out.getvalue()


def row(one: CoastDown) -> list[str]:
    return next(line.split() for line in printed(one).splitlines() if line.startswith("stop "))


def test_nothing_asked_prints_nothing() -> None:
    assert printed() == ""


@pytest.mark.parametrize(
    ("taken", "holds", "shown"),
    [
        (Interval(4_000 * MS, 5_000 * MS), True, ["4.000", "5.000", "6", "yes"]),
        (Interval(4_000 * MS - 1, 5_000 * MS + 1), True, ["3.999", "5.001", "6", "yes"]),
        (Interval(5_990 * MS, 6_000 * MS + 1), None, ["5.990", "6.001", "6", "open"]),
        (Interval(5_990 * MS, None), None, ["5.990", "?", "6", "open"]),
        (Interval(6_000 * MS + 1, 7_000 * MS), False, ["6.000", "7.000", "6", "NO"]),
    ],
)
def test_a_row_holds_both_ends_rounded_outwards(
    taken: Interval, holds: bool | None, shown: list[str]
) -> None:
    assert row(replace(TOLD, taken=taken, holds=holds)) == ["stop", "1.500", "1440", *shown]


def test_without_a_time_there_is_a_reason_and_no_row() -> None:
    text = printed(REFUSED)
    assert "least s" not in text
    why = "How long this stop would take from 3000 1/min cannot be said: the record does not fall."
    assert f"stop at 1.500 s: {why}" in text


def test_the_same_reason_is_said_once_for_all_its_stops() -> None:
    text = printed(REFUSED, replace(REFUSED, demand=Interval(9_000 * MS, 9_001 * MS)), TOLD)
    assert text.count("cannot be said") == 1
    assert "stop at 1.500 s, stop at 9.000 s: How long" in text
    assert "1440" in text


def test_a_prediction_far_beyond_the_test_says_so() -> None:
    far = "70% of that time lies outside the speeds recorded"
    assert printed(replace(TOLD, why=far)).rstrip().endswith(f"{far}.")


def test_it_says_that_no_verdict_rests_on_it() -> None:
    text = " ".join(printed(TOLD).split())
    assert "From maximum speed (3000 1/min)" in text
    assert "No verdict rests on it; it replaces no test from there." in text
