"""Repeated stops in the report: worst, mean, spread, what they bound, and what so many stops are worth."""

from typing import Any

from reportlab.platypus import Flowable, LongTable

from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import FRAME, GRID, WIDTH, head, heading, note, shortened, small
from interlock.evidence.words import bounds, effect_words, exact

__all__ = ["repeats"]

_EXPLAIN = (
    "All stops of a kind are counted; none is left out, whatever it looks like. Each figure is an interval that holds "
    "the true one. s is the standard deviation with n - 1. The bound lies above the stated share of all such stops "
    "with the stated confidence if the stops are normal (mean + k s); a test that does not refute it proves nothing. "
    "These figures change no verdict: each stop was judged for itself. Where the bench file states a rule for repeated "
    "stops, findings of their own say what it came to."
)
_WIDTHS = (26.0, 66.0, 66.0, 60.0, 62.0)


def repeats(material: Material) -> list[Flowable]:
    """A heading and a table; nothing where nothing was timed more than once."""
    rows = [] if material.replay is None else list(material.replay.objects("repeats"))
    if not rows:
        return []
    names = ("Function, effect, subject; what it says", "n", "Worst", "Mean", "Spread s", "Bound")
    table: list[list[Any]] = [[head(name) for name in names]]
    style: list[tuple[Any, ...]] = list(FRAME)
    for row in rows:
        _rows(row, table, style)
    worths = dict.fromkeys(row.text("worth") for row in rows)
    return [
        *heading("Repeated stops"),
        note(_EXPLAIN),
        LongTable(table, colWidths=[WIDTH - sum(_WIDTHS), *_WIDTHS], style=style, repeatRows=1),
        *(note(worth) for worth in worths if worth),
    ]


def _rows(row: Fields, table: list[list[Any]], style: list[tuple[Any, ...]]) -> None:
    limit, bound = row.number("limit_ns"), row.number("normal_bound_ns")
    share = f"{row.need_real('proportion'):.0%} of stops with {row.need_real('confidence'):.0%} confidence"
    name = f"{row.need('function')}: {effect_words(row.need('effect'))}, {row.need('subject')}"
    style.append(("NOSPLIT", (0, len(table)), (0, len(table) + 1)))
    table.append(
        [
            small(shortened(name)),
            small(str(row.number("count"))),
            *(small(bounds(row.span(key), limit)) for key in ("worst_ns", "mean_ns")),
            small(bounds(row.span("spread_ns"))),
            small("none" if bound is None else bounds_above(bound, limit)),
        ]
    )
    said = f"{row.text('sentence')} {_normality(row)} Limit {exact(limit or 0)}; bound for {share}."
    style.append(("SPAN", (0, len(table)), (-1, len(table))))
    style.append(("LINEBELOW", (0, len(table)), (-1, len(table)), 0.3, GRID))
    table.append([small(said), "", "", "", "", ""])


def bounds_above(bound_ns: int, limit_ns: int | None) -> str:
    """An upper bound in words, rounded up."""
    unit = "ms" if (limit_ns or bound_ns) < 10**9 else "s"
    step = 10**5 if unit == "ms" else 10**6
    return f"below {exact(-(-bound_ns // step) * step, unit)}"


def _normality(row: Fields) -> str:
    if "normality" not in row:
        return "Too few stops, or no spread, to test whether they are normal."
    test = Fields.of(row.get("normality"), f"{row.where}.normality")
    return f"{test.text('test')}: p = {test.need_real('p_value'):.2g}."
