"""Temperatures in the report: the highest in the run and during each stop, against what is permitted."""

from typing import Any, Final

from reportlab.platypus import Flowable

from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import GRID, shortened, small
from interlock.evidence.told import told
from interlock.evidence.words import instant

__all__ = ["temperatures"]

_EXPLAIN: Final = (
    "The highest temperature that the samples show, in the run and from each demand to its reset. Samples that stand "
    "apart from their neighbours do not count, and are told. 'At least' means that evidence is missing, so that it may "
    "have been hotter. These figures change no verdict."
)
_WIDTHS: Final = (110.0, 96.0, 110.0)


def temperatures(material: Material) -> list[Flowable]:
    """A heading and a table; nothing where the bench file shows no temperature."""
    return told(
        material,
        "temperatures",
        _rows,
        title="Temperatures",
        explain=_EXPLAIN,
        names=("Temperature; when", "Demand", "Highest", "Seen at"),
        widths=_WIDTHS,
        room=130,
    )


def _rows(row: Fields, table: list[list[Any]], style: list[tuple[Any, ...]]) -> None:
    style.append(("SPAN", (0, len(table)), (-1, len(table))))
    style.append(("NOSPLIT", (0, len(table)), (0, len(table) + 1)))
    table.append([small(row.need("sentence")), "", "", ""])
    run = Fields.of(row.get("run"), f"{row.where}.run")
    for peak in (run, *row.objects("stops")):
        table.append(_peak(peak))
    style.append(("LINEBELOW", (0, len(table) - 1), (-1, len(table) - 1), 0.3, GRID))


def _peak(peak: Fields) -> list[Any]:
    highest, demand, at = peak.real("highest_degc"), peak.span("demand_ns"), peak.span("at_ns")
    least = "at least " if peak.get("at_least") is not False else ""
    return [
        small(shortened(peak.text("function") or "whole run")),
        small("" if demand is None else instant(demand)),
        small("not shown" if highest is None else f"{least}{highest:g} °C"),
        small("–" if at is None else instant(at)),
    ]
