"""Repeated stops on the terminal: upper ends, rounded up; nothing where nothing was repeated."""

from io import StringIO

import pytest
from rich.console import Console

from interlock.cli.repeat_page import show_repeats
from interlock.interval import Interval
from interlock.replay.finding import Finding
from interlock.replay.repeats import repeated
from interlock.verdict import Verdict


def printed(*stops: Interval) -> str:
    found = [
        Finding("stop", "drive", "torque_off", Verdict.PASS, "r", "s", "t", Interval(0, 1), one, 100_000_000)
        for one in stops
    ]
    out = StringIO()
    show_repeats(Console(file=out, width=100, markup=False, highlight=False), repeated(found))
    return out.getvalue()


def test_nothing_repeated_prints_nothing() -> None:
    assert printed(Interval(1, 2)) == ""


@pytest.mark.parametrize(("hi", "worst"), [(20_000_000, "20"), (20_000_001, "20.1"), (None, "?")])
def test_an_upper_end_is_rounded_up_and_an_unknown_one_is_a_question_mark(hi: int | None, worst: str) -> None:
    row = next(
        line for line in printed(Interval(0, 5), Interval(1, hi)).splitlines() if line.startswith("stop")
    )
    assert row.split()[4:6] == ["2", worst]


def test_it_says_what_so_many_stops_are_worth_once() -> None:
    text = printed(Interval(0, 5), Interval(1, 6))
    assert text.count("59 stops are needed for 95 %") == 1
