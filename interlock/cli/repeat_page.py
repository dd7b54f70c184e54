"""Repeated stops as text: a row for each effect that was timed more than once, then what so many stops are worth."""

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from interlock.interval import Interval, ms_up
from interlock.replay.repeats import Repeated

__all__ = ["show_repeats"]


def show_repeats(page: Console, repeats: Sequence[Repeated]) -> None:
    """Print nothing where nothing was repeated."""
    if not repeats:
        return
    page.print()
    page.print(
        "Repeated stops: at most so many ms. s: standard deviation; bound: above 95 % of such stops with"
    )
    page.print(
        "95 % confidence, if they are normal. No stop is left out, and no verdict rests on these figures;"
    )
    page.print("a rule that the bench file states for repeats is judged above.")
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("function", "subject", "effect"):
        table.add_column(name)
    for name in ("stops", "worst", "mean", "s", "bound", "limit"):
        table.add_column(name, justify="right")
    for one in repeats:
        figures, bound = one.figures, one.figures.normal_bound_ns
        table.add_row(
            one.function,
            one.subject,
            one.effect.replace("_", " "),
            str(len(figures.stops)),
            _most(figures.worst),
            _most(figures.mean),
            _most(figures.spread),
            "?" if bound is None else ms_up(bound),
            f"{one.limit_ns / 1e6:g}",
        )
    page.print(table)
    for sentence in dict.fromkeys(one.worth for one in repeats):
        page.print(sentence, soft_wrap=True)


def _most(span: Interval) -> str:
    return "?" if span.hi is None else ms_up(span.hi)
