"""Timing pictures: what happened after a demand, one lane an effect or signal, drawn to scale."""

import math
from collections.abc import Iterable, Sequence
from typing import Any, Final

from reportlab.graphics.shapes import Drawing, Line, PolyLine, Rect, String
from reportlab.lib.colors import Color

from interlock.evidence.fonts import TEXT, fit
from interlock.evidence.lanes import Panel, Series
from interlock.evidence.material import Finding
from interlock.evidence.style import GRID, INK, LINE, LOOK, MUTED, WIDTH
from interlock.evidence.words import SHORT, bounds, effect_words, exact
from interlock.interval import Interval
from interlock.verdict import Verdict

__all__ = ["draw", "lane_height", "thinned", "ticks"]

_LABELS: Final = 118.0  # left column
_FIGURES: Final = 122.0  # right column
_LEFT, _RIGHT = _LABELS, WIDTH - _FIGURES
_EFFECT_LANE, _SIGNAL_LANE, _AXIS = 19.0, 36.0, 26.0
_BEFORE: Final = 0.1  # share of the panel shown before its zero, where signals are drawn
_SIZE: Final = 7.0
_SHADE: Final = Color(0.36, 0.40, 0.45, alpha=0.22)
_POINTS: Final = 600  # at most, for one signal


class _Axis:
    """From nanoseconds to points across the page."""

    def __init__(self, panel: Panel) -> None:
        self.end_ns = panel.end_ns
        self.start_ns = -int(panel.end_ns * _BEFORE) if panel.series else 0

    def x(self, at_ns: float) -> float:
        """Where the instant lies; outside the panel: at its edge."""
        share = (at_ns - self.start_ns) / (self.end_ns - self.start_ns)
        return float(_LEFT + min(max(share, 0.0), 1.0) * (_RIGHT - _LEFT))


def lane_height(panel: Panel) -> float:
    """Height in points of the picture that `draw` makes of the panel."""
    return _AXIS + _EFFECT_LANE * len(panel.findings) + _SIGNAL_LANE * len(panel.series) + 4


def draw(panel: Panel, onset: Interval) -> Drawing:
    """The panel to scale: zero is the earliest onset; the shaded stretch is the doubt about it."""
    height = lane_height(panel)
    drawing = Drawing(WIDTH, height)
    axis = _Axis(panel)
    _frame(drawing, axis, height)
    _doubt(drawing, axis, onset, height)
    top = height - 2
    for finding in panel.findings:
        top -= _EFFECT_LANE
        _effect_lane(drawing, axis, finding, top)
    for series in panel.series:
        top -= _SIGNAL_LANE
        _signal_lane(drawing, axis, series, top)
    return drawing


def ticks(end_ns: int, wanted: int = 6) -> list[int]:
    """Round instants from 0 to `end_ns`: steps of 1, 2 or 5 times a power of ten nanoseconds."""
    rough = max(1.0, end_ns / wanted)
    power = 10 ** math.floor(math.log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough)
    return list(range(0, end_ns + 1, int(step)))


def _text(x: float, y: float, text: str, **style: Any) -> String:
    options = {"fontName": TEXT, "fontSize": _SIZE, "fillColor": INK, **style}
    return String(x, y, text, **options)


def _frame(drawing: Drawing, axis: _Axis, height: float) -> None:
    unit, size = ("ms", 10**6) if axis.end_ns < 2 * 10**9 else ("s", 10**9)
    for at_ns in ticks(axis.end_ns):
        x = axis.x(at_ns)
        drawing.add(Line(x, _AXIS - 3, x, height - 2, strokeColor=GRID, strokeWidth=0.5))
        drawing.add(_text(x, _AXIS - 12, f"{at_ns / size:g}", textAnchor="middle", fillColor=MUTED))
    drawing.add(Line(_LEFT, _AXIS, _RIGHT, _AXIS, strokeColor=INK, strokeWidth=0.7))
    legend = f"{unit} after the earliest possible onset of the demand"
    drawing.add(_text((_LEFT + _RIGHT) / 2, _AXIS - 21, legend, textAnchor="middle", fillColor=MUTED))


def _doubt(drawing: Drawing, axis: _Axis, onset: Interval, height: float) -> None:
    end = axis.end_ns if onset.hi is None else onset.hi - onset.lo
    left, right = axis.x(0), max(axis.x(end), axis.x(0) + 0.4)
    drawing.add(Rect(left, _AXIS, right - left, height - 2 - _AXIS, fillColor=_SHADE, strokeColor=None))


def _effect_lane(drawing: Drawing, axis: _Axis, finding: Finding, base: float) -> None:
    subject = f", {finding.subject}" if finding.subject else ""
    name = f"{effect_words(finding.effect)}{subject}"
    drawing.add(Line(0, base, WIDTH, base, strokeColor=GRID, strokeWidth=0.5))
    drawing.add(_text(0, base + 6.5, fit(f"{finding.number}  {name}", _LABELS - 6, _SIZE)))
    if finding.latency is not None:
        _band(drawing, axis, finding.latency, finding.verdict, base + 4.5)
    if finding.limit_ns is not None:
        x = axis.x(finding.limit_ns)
        drawing.add(Line(x, base + 1.5, x, base + _EFFECT_LANE - 1.5, strokeColor=INK, strokeWidth=1.6))
    _figures(drawing, finding, base)


def _figures(drawing: Drawing, finding: Finding, base: float) -> None:
    limit = "no limit" if finding.limit_ns is None else f"limit {exact(finding.limit_ns)}"
    for words, lift, ink in (
        (bounds(finding.latency, finding.limit_ns), 10.5, INK),
        (f"{limit}: {SHORT[finding.verdict]}", 2.8, MUTED),
    ):
        drawing.add(_text(_RIGHT + 8, base + lift, fit(words, _FIGURES - 8, _SIZE), fillColor=ink))


def _band(drawing: Drawing, axis: _Axis, latency: Interval, verdict: Verdict, base: float) -> None:
    look, tall = LOOK[verdict], _EFFECT_LANE - 9
    left = axis.x(latency.lo)
    right = max(_RIGHT if latency.hi is None else axis.x(latency.hi), left + 1.2)
    drawing.add(
        Rect(
            left,
            base,
            right - left,
            tall,
            fillColor=look.fill,
            strokeColor=look.edge,
            strokeWidth=look.edge_width,
            strokeDashArray=None if look.dash is None else list(look.dash),
        )
    )
    if latency.hi is None:
        for lift in (0, tall):
            drawing.add(Line(right - 5, base + lift, right + 3, base + tall / 2, strokeColor=look.edge))


def _signal_lane(drawing: Drawing, axis: _Axis, series: Series, base: float) -> None:
    drawing.add(Line(0, base, WIDTH, base, strokeColor=GRID, strokeWidth=0.5))
    values = [value for piece in series.pieces for _, value in piece]
    label = f"{series.label} in {series.unit}" if series.unit else series.label
    drawing.add(_text(0, base + 15, fit(label, _LABELS - 6, _SIZE)))
    if not values:
        drawing.add(_text(_LEFT + 4, base + 15, "no sample in this stretch of time", fillColor=MUTED))
        return
    low, high = (0.0, 1.0) if series.is_state else (min(values), max(values))
    _scale(drawing, low, high, base)
    for piece in series.pieces:
        _curve(drawing, axis, series, piece, low, high, base)


def _scale(drawing: Drawing, low: float, high: float, base: float) -> None:
    labels = ((high, _SIGNAL_LANE - 10), (low, 3.0)) if high > low else ((low, 15.0),)
    for value, lift in labels:
        drawing.add(_text(_RIGHT + 8, base + lift, _figure(value, high - low), fillColor=MUTED))
    drawing.add(Line(_RIGHT, base + 4, _RIGHT, base + _SIGNAL_LANE - 4, strokeColor=LINE, strokeWidth=0.6))


def _figure(value: float, swing: float) -> str:
    """The value to about a thousandth of the swing, so that noise about zero reads as zero."""
    places = 3 - math.floor(math.log10(swing)) if swing > 0 else 3
    return f"{round(value, places) + 0.0:.6g}"


def _curve(
    drawing: Drawing,
    axis: _Axis,
    series: Series,
    piece: Sequence[tuple[int, float]],
    low: float,
    high: float,
    base: float,
) -> None:
    tall = _SIGNAL_LANE - 8
    if high == low:
        low, high = low - 1.0, high + 1.0  # a value that never changes lies in the middle
    swing = high - low
    points = [(axis.x(at), base + 4 + (value - low) / swing * tall) for at, value in thinned(piece)]
    if series.is_state:
        points = _steps(points)
    if len(points) == 1:
        (x, y) = points[0]
        points = [(x - 1, y), (x + 1, y)]
    flat = [round(number, 2) for point in points for number in point]
    drawing.add(PolyLine(flat, strokeColor=INK, strokeWidth=0.9, strokeLineJoin=1))


def _steps(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    out = [points[0]]
    for x, y in points[1:]:
        out += [(x, out[-1][1]), (x, y)]
    return out


def thinned(samples: Sequence[tuple[int, float]]) -> list[tuple[int, float]]:
    """At most a few hundred samples that keep the first, the last and every extreme of the whole."""
    if len(samples) <= _POINTS:
        return list(samples)
    size = -(-len(samples) // (_POINTS // 4))
    kept: set[int] = set()
    for start in range(0, len(samples), size):
        block = range(start, min(start + size, len(samples)))
        kept |= {block[0], block[-1], _extreme(samples, block, min), _extreme(samples, block, max)}
    return [samples[index] for index in sorted(kept)]


def _extreme(samples: Sequence[tuple[int, float]], block: Iterable[int], pick: Any) -> int:
    return int(pick(block, key=lambda index: samples[index][1]))
