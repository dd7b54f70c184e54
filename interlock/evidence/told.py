"""What a result tells beside its verdicts, as a titled table with its explanation; nothing without rows."""

from collections.abc import Callable, Sequence
from typing import Any

from reportlab.platypus import Flowable, LongTable

from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import FRAME, GRID, WIDTH, head, heading, note, small

__all__ = ["AddRow", "figures", "told"]

AddRow = Callable[[Fields, list[list[Any]], list[tuple[Any, ...]]], None]
"""Appends what one object of the result says to the table, and how it looks to the style."""


def told(
    material: Material,
    entry: str,
    add: AddRow,
    *,
    title: str,
    explain: str,
    names: Sequence[str],
    widths: Sequence[float],
    room: float = 90,
) -> list[Flowable]:
    """The objects of the replay result's `entry` as a table; `widths` in points of all columns but the first."""
    rows = [] if material.replay is None else list(material.replay.objects(entry))
    if not rows:
        return []
    table: list[list[Any]] = [[head(name) for name in names]]
    style: list[tuple[Any, ...]] = list(FRAME)
    for row in rows:
        add(row, table, style)
    return [
        *heading(title, room=room),
        note(explain),
        LongTable(table, colWidths=[WIDTH - sum(widths), *widths], style=style, repeatRows=1),
    ]


def figures(
    cells: Sequence[str], sentence: str, table: list[list[Any]], style: list[tuple[Any, ...]]
) -> None:
    """Append a row of figures and, across the table and on the same page, the sentence that says what they mean."""
    at = len(table)
    table.append(list(map(small, cells)))
    table.append([small(sentence), *[""] * (len(cells) - 1)])
    style.append(("NOSPLIT", (0, at), (0, at + 1)))
    style.append(("SPAN", (0, at + 1), (-1, at + 1)))
    style.append(("LINEBELOW", (0, at + 1), (-1, at + 1), 0.3, GRID))
