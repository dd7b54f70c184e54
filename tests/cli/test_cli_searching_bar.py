"""The line that tells how far a search is: on a terminal only, after some seconds, gone afterwards."""

import io
import sys
from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from interlock.bench import load_bench
from interlock.chain import check
from interlock.chain.watching import tell, watching
from interlock.cli.searching_bar import searching_bar

SMALL = Path(__file__).parents[1] / "benches" / "shapes" / "start_stop_station.yaml"


class Terminal(io.StringIO):
    """A stream that says of itself that it is a terminal."""

    def isatty(self) -> bool:
        return True


def slow() -> Callable[[], float]:
    """A clock by which each step takes two seconds."""
    return map(float, count(0, 2)).__next__


def test_a_long_search_says_what_is_searched_and_how_far_it_is() -> None:
    with searching_bar(as_json=False, stream=(terminal := Terminal()), clock=slow()):
        for met in (100, 2_000, 30_000):
            tell("the bench under faults", met)
    shown = terminal.getvalue()
    assert "100 situations" not in shown
    assert "the bench under faults: 30,000 situations met so far, after 6 s" in shown


def test_a_check_tells_of_the_sound_bench_and_of_faults() -> None:
    told: list[tuple[str, int]] = []
    with watching(lambda what, met: told.append((what, met))):
        check(load_bench(SMALL), faults=1)
    assert {what for what, _ in told} == {"the sound bench", "the bench under faults"}
    assert all(met > 0 for _, met in told)


def test_nobody_is_told_when_nobody_watches() -> None:
    told: list[int] = []
    with watching(lambda _, met: told.append(met)):
        tell("it", 1)
    tell("it", 2)
    assert told == [1]


def test_a_short_search_shows_nothing() -> None:
    with searching_bar(as_json=False, stream=(terminal := Terminal()), clock=lambda: 0.0):
        tell("the sound bench", 5)
    assert terminal.getvalue() == ""


@pytest.mark.parametrize("stream", [io.StringIO(), Terminal()], ids=["pipe", "terminal"])
def test_no_line_without_a_terminal_or_between_a_program_and_its_json(
    stream: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    with searching_bar(as_json=True, stream=stream, clock=slow()):
        for met in range(9):
            tell("the sound bench", met)
    assert stream.getvalue() == ""
