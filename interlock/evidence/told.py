"""What a result tells beside its verdicts, as a titled table with its explanation; nothing without rows."""

from collections.abc import Callable, Sequence
from typing import Any

from reportlab.platypus import Flowable, LongTable

from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import FRAME, WIDTH, head, heading, note

__all__ = ["AddRow", "told"]

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
    room: float,
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
