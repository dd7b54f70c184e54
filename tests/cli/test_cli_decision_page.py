"""Decision rules and discharges on the terminal: one row or line each, rounded upwards, or nothing at all."""

from dataclasses import replace
from io import StringIO
from typing import Any

import pytest
from rich.console import Console

from interlock.bench.required_models import Decision
from interlock.cli.decision_page import chance, show_decisions
from interlock.cli.discharge_page import show_discharges
from interlock.interval import Interval
from interlock.replay.decided import Decided
from interlock.replay.discharging import Discharge

MS = 1_000_000
GUARD = Decision(rule="guard band", measuring_chain="2 ms", source="item 12")
SIMPLE = Decision(rule="simple acceptance", source="item 12")
ROW = Decided("stop", "prime", "torque_off", 5, Interval(14 * MS, 36 * MS), False, 80 * MS, 0, "")
FALL = Discharge("emergency_stop", "link", Interval(39_492 * MS, 39_500 * MS), 4_000 * MS, 60.0, 352.0, "")


def printed(show: Any, *what: Any) -> str:
    out = StringIO()
    show(Console(file=out, width=110, markup=False, highlight=False), *what)
    return out.getvalue()


def row(one: Decided) -> list[str]:
    return next(
        line.split() for line in printed(show_decisions, [one], None).splitlines() if one.subject in line
    )


def test_nothing_timed_prints_nothing() -> None:
    assert printed(show_decisions, [], GUARD) == ""
    assert printed(show_discharges, []) == ""


@pytest.mark.parametrize(
    ("one", "shown"),
    [
        (ROW, ["5", "25.0", "12.8", "80", "0", "yes", "yes", "interval"]),
        (replace(ROW, stated="guard band"), ["5", "25.0", "12.8", "80", "0", "yes", "yes", "guard"]),
        (replace(ROW, stated="simple acceptance"), ["5", "25.0", "12.8", "80", "0", "yes", "yes", "simple"]),
        (
            replace(ROW, measured=Interval(58 * MS, 80 * MS), stated="guard band"),
            ["5", "69.0", "12.8", "80", "0", "yes", "NO", "guard"],
        ),
        (
            replace(ROW, measured=Interval(58 * MS, 102 * MS), stated="simple acceptance"),
            ["5", "80.0", "25.5", "80", "0.5", "yes", "NO", "interval"],
        ),
        (replace(ROW, measured=Interval(14 * MS, None)), ["5", "?", "?", "80", "?", "?", "?", "interval"]),
    ],
)
def test_a_row_says_what_was_measured_and_what_each_rule_says_of_it(one: Decided, shown: list[str]) -> None:
    assert row(one) == ["torque", "off", "prime", *shown]


@pytest.mark.parametrize(
    ("stated", "said"),
    [
        (None, "none is stated in the bench file; the whole interval must be within its limit."),
        (GUARD, "stated in the bench file: guard band, measuring chain 2 ms [item 12]."),
        (SIMPLE, "stated in the bench file: simple acceptance [item 12]."),
    ],
)
def test_it_says_which_rule_is_stated(stated: Decision | None, said: str) -> None:
    text = " ".join(printed(show_decisions, [ROW], stated).split())
    assert said in text
    assert "No rule passes what is not wholly within its limit." in text


@pytest.mark.parametrize(
    ("probability", "said"), [(0.0, "0"), (1e-12, "<1e-9"), (0.02275, "0.023"), (0.5, "0.5"), (1.0, "1")]
)
def test_a_probability_is_never_rounded_down_to_nothing(probability: float, said: str) -> None:
    assert chance(probability) == said


def test_a_discharge_is_a_line() -> None:
    told = replace(
        FALL,
        time_constant_s=(1.1, 1.092, 1.107),
        taken=Interval(1_932_000_999, 1_959_000_001),
        remaining_v=(3.62, 3.85),
        holds=True,
    )
    text = " ".join(printed(show_discharges, [told]).split())
    assert (
        "emergency_stop at 39.492 s, link: Time constant 1.1 s (1.092 to 1.107 s, 95 % band): from 352 V the bus is at"
        " 60 V after 1.932 to 1.960 s; 4 s are allowed: that holds. After 5 s 3.62 to 3.85 V are left."
    ) in text
    assert "measure before you touch" in text


@pytest.mark.parametrize(
    ("holds", "said"), [(False, "that does not hold"), (None, "the band does not decide")]
)
def test_a_discharge_that_does_not_hold_is_not_said_to(holds: bool | None, said: str) -> None:
    told = replace(FALL, time_constant_s=(1, 1, 1), taken=Interval(1, 2), remaining_v=(1, 2), holds=holds)
    text = " ".join(printed(show_discharges, [told]).split())
    assert f"are allowed: {said}." in text
    assert "that holds" not in text


def test_a_discharge_without_figures_says_why() -> None:
    text = printed(show_discharges, [replace(FALL, demand=None, why="evidence of the voltage is missing")])
    assert (
        "emergency_stop since before the log, link: The time constant of the bus cannot be said: evidence"
        in text
    )
