"""The timing picture of a counterexample: one row a signal, one column an act, for PDF and SVG alike."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, Final

from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect, String
from reportlab.lib.colors import Color, HexColor

from interlock.chain import Part, Signal, Story
from interlock.evidence.fonts import TEXT, fit
from interlock.evidence.style import GRID, INK, LINE, MUTED, WIDTH

__all__ = ["COLUMNS_AT_MOST", "timing", "timing_height"]

COLUMNS_AT_MOST: Final = 24
"""Columns that fit beside each other; a longer way is drawn in several pictures."""

_LABELS: Final = 0.40  # share of the width for the words of a signal
_ROW, _HIGH, _HEAD = 15.0, 8.0, 14.0
_SIZE: Final = 7.0
_SHADE: Final = Color(0.36, 0.40, 0.45, alpha=0.16)
_FILL: Final = HexColor(0xDCE9F2)
_FAULT: Final = HexColor(0xC9CED4)


def timing_height(story: Story) -> float:
    """Height in points of the picture that `timing` makes."""
    return _HEAD + _ROW * len(story.signals) + 4


def timing(story: Story, first: int = 0, width: float = WIDTH, font: str = TEXT) -> Drawing:
    """The signals over the columns from `first` on; the last column of the story is shaded.

    A column begins with its act: column 0 is power-up. The line is up, and filled below, while the signal holds.
    """
    columns = range(first, min(first + COLUMNS_AT_MOST, story.moments))
    height = timing_height(story)
    drawing = Drawing(width, height)
    edges = _edges(width, len(columns))
    if columns[-1] == story.moments - 1:
        last = Rect(edges[-2], 2, edges[-1] - edges[-2], height - 2, fillColor=_SHADE, strokeColor=None)
        drawing.add(last)
    for at, left in zip(columns, edges, strict=False):
        drawing.add(Line(left, 2, left, height - 2, strokeColor=GRID, strokeWidth=0.5))
        drawing.add(_text(left + 2, height - 10, str(at), font, fillColor=MUTED))
    base, part = height - _HEAD, None
    for one in story.signals:
        base -= _ROW
        if one.part is not part:
            drawing.add(Line(0, base + _ROW, width, base + _ROW, strokeColor=LINE, strokeWidth=0.5))
        part = one.part
        words = fit(one.words, width * _LABELS - 6, _SIZE, font)
        drawing.add(_text(0, base + 5, words, font))
        _level(drawing, one, columns, edges, base + 3)
    return drawing


def _edges(width: float, columns: int) -> list[float]:
    left = width * _LABELS
    step = min((width - left) / columns, 48.0)
    return [round(left + step * at, 2) for at in range(columns + 1)]


def _level(
    drawing: Drawing, one: Signal, columns: Sequence[int], edges: Sequence[float], base: float
) -> None:
    points: list[float] = []
    fill = _FAULT if one.part is Part.FAULT else _FILL
    for at, (left, right) in zip(columns, pairwise(edges), strict=True):
        top = base + (_HIGH if one.high[at] else 0.0)
        if one.high[at]:
            drawing.add(Rect(left, base, right - left, _HIGH, fillColor=fill, strokeColor=None))
        points += [left, top, right, top]
    drawing.add(PolyLine(points, strokeColor=INK, strokeWidth=1.0, strokeLineJoin=1))


def _text(x: float, y: float, text: str, font: str, **style: Any) -> String:
    return String(x, y, text, **{"fontName": font, "fontSize": _SIZE, "fillColor": INK, **style})
