"""Repeated stops in the report: worst, mean, spread, what they bound, and what so many stops are worth."""

from typing import Any

from reportlab.platypus import Flowable

from interlock.evidence.fields import Fields
from interlock.evidence.material import Material
from interlock.evidence.style import note, shortened
from interlock.evidence.told import figures, told
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
    table = told(
        material,
        "repeats",
        _rows,
        title="Repeated stops",
        explain=_EXPLAIN,
        names=("Function, effect, subject; what it says", "n", "Worst", "Mean", "Spread s", "Bound"),
        widths=_WIDTHS,
    )
    worths = dict.fromkeys(row.text("worth") for row in rows)
    return [*table, *(note(worth) for worth in worths if worth)]


def _rows(row: Fields, table: list[list[Any]], style: list[tuple[Any, ...]]) -> None:
    limit, bound = row.number("limit_ns"), row.number("normal_bound_ns")
    share = f"{row.need_real('proportion'):.0%} of stops with {row.need_real('confidence'):.0%} confidence"
    name = f"{row.need('function')}: {effect_words(row.need('effect'))}, {row.need('subject')}"
    cells = [
        shortened(name),
        str(row.number("count")),
        *(bounds(row.span(key), limit) for key in ("worst_ns", "mean_ns")),
        bounds(row.span("spread_ns")),
        "none" if bound is None else bounds_above(bound, limit),
    ]
    said = f"{row.text('sentence')} {_normality(row)} Limit {exact(limit or 0)}; bound for {share}."
    figures(cells, said, table, style)


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
