"""Score of the measures against common cause failure, ISO 13849-1 Annex F, Table F.1 (2006, 2015; 2023 alike)."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from interlock.errors import RatingError
from interlock.rating.values import choice, whole

__all__ = ["ENOUGH", "MEASURES", "Measure", "ccf_enough", "ccf_score", "taken_once"]

ENOUGH: Final = 65
"""Least score of a subsystem of category 2, 3 or 4; 64 is a fail. β of at most 2 % is then assumed."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One row of the list: it counts fully or not at all."""

    row: str
    points: int
    meaning: str


MEASURES: Final = {
    "separation": Measure("1", 15, "signal paths apart: wiring, clearances"),
    "diversity": Measure("2", 20, "different technologies, principles or makers"),
    "overload_protection": Measure("3.1", 15, "protection against over-voltage, over-current, over-pressure"),
    "well_tried_components": Measure("3.2", 5, "components that are well tried"),
    "failure_analysis": Measure("4", 5, "results of a failure mode and effect analysis used in the design"),
    "training": Measure("5", 5, "designers and maintainers know causes and consequences"),
    "contamination_and_emc": Measure("6.1", 25, "contamination prevented; immunity to interference checked"),
    "other_influences": Measure("6.2", 10, "temperature, shock, vibration, humidity considered"),
}
"""The rows of Table F.1 by the name used in a bench description; 100 points in all."""


def ccf_score(measures: Iterable[str]) -> int:
    """The points of the measures taken in one subsystem, each named once; RatingError for an unknown name."""
    return sum(MEASURES[name].points for name in taken_once(measures, MEASURES))


def taken_once(measures: Iterable[str], known: Mapping[str, Measure]) -> list[str]:
    """The names, each of a measure of that list and named once; else RatingError."""
    if isinstance(measures, str):
        raise RatingError(f"measures is the text {measures!r}: give a list of names")
    names = [choice("measure against common cause failure", name, known) for name in measures]
    if len(set(names)) < len(names):
        raise RatingError(f"measures {names!r} name one twice: each counts once")
    return names


def ccf_enough(score: int) -> bool:
    """True from 65 points on. A score of the list of IEC 62061 is another number and must not be used here."""
    need = "give 0 to 100 points of Table F.1"
    points = whole("score", score, need, at_least=0)
    if points > 100:
        raise RatingError(f"score is {points}: {need}")
    return points >= ENOUGH
