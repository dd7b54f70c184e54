"""Temperatures on the terminal: the sentence of each, then its stops."""

from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from interlock.cli.temperature_page import show_temperatures
from interlock.interval import Interval
from interlock.replay.temperatures import Peak, Temperature

S = 10**9
RUN = Peak("", None, 90.25, Interval(40 * S, 40 * S + 1), False, 0, None)
STOP = replace(RUN, function="stop", demand=Interval(5 * S, 6 * S), highest=51.5)
FOUND = Temperature("drive.winding_temperature", "winding temperature of the drive", 0.0, None, RUN, (STOP,))


def printed(*found: Temperature) -> str:
    out = StringIO()
    show_temperatures(Console(file=out, width=200, markup=False, highlight=False), found)
    return out.getvalue()


def test_nothing_shown_prints_nothing() -> None:
    assert printed() == ""


def test_a_temperature_is_its_sentence_and_its_stops() -> None:
    text = printed(FOUND)
    assert "no verdict rests on them" in text
    assert "winding temperature of the drive: 90.25 °C at 40.000 s.\n" in text
    assert "  in the stops: stop at 5.000 s 51.5 °C\n" in text
    assert "in the stops" not in printed(replace(FOUND, stops=()))


@pytest.mark.parametrize(
    ("peak", "said"),
    [
        (replace(STOP, at_least=True), "stop at 5.000 s at least 51.5 °C"),
        (replace(STOP, highest=None, at=None, at_least=True), "stop at 5.000 s not shown"),
    ],
)
def test_what_is_not_wholly_shown_is_said_not_to_be(peak: Peak, said: str) -> None:
    assert said in printed(replace(FOUND, stops=(peak,)))


@pytest.mark.parametrize(
    ("run", "uncertain", "limit", "said"),
    [
        (RUN, 0.0, 100.0, "; 100 °C are permitted: not reached."),
        (RUN, 0.0, 90.0, "; 90 °C are permitted: REACHED."),
        (
            RUN,
            2.0,
            91.0,
            "90.25 °C (plus or minus 2) at 40.000 s; 91 °C are permitted: whether they were reached is",
        ),
        (
            replace(RUN, at_least=True),
            0.0,
            100.0,
            "at least 90.25 °C at 40.000 s; evidence is missing, so it may",
        ),
        (
            replace(RUN, apart=1, hottest_apart=99.0),
            0.0,
            95.0,
            "a hotter sample stands apart from its neighbours (99",
        ),
        (
            replace(RUN, apart=3, hottest_apart=99.0),
            0.0,
            None,
            "3 hotter samples stand apart from their neighbours",
        ),
    ],
)
def test_the_sentence_holds_the_doubt(run: Peak, uncertain: float, limit: float | None, said: str) -> None:
    assert said in printed(replace(FOUND, run=run, uncertain=uncertain, limit=limit))
