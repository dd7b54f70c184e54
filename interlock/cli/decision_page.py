"""Decision rules as text: of each kind of time the one that fares worst, and what each rule says of it."""

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from interlock.bench.required_models import Decision
from interlock.interval import ms_up
from interlock.replay.decided import Decided
from interlock.timing.rule import GUARDED, SIMPLE, Rule, largest_false_acceptance

__all__ = ["chance", "show_decisions"]


def show_decisions(page: Console, rows: Sequence[Decided], stated: Decision | None) -> None:
    """Print nothing where nothing was timed."""
    if not rows:
        return
    page.print()
    page.print(_said(stated), soft_wrap=True)
    most = [f"{largest_false_acceptance(rule):.2g}" for rule in (SIMPLE, GUARDED)]
    page.print(
        "Of each kind the time that fares worst; U: its expanded uncertainty (95 %); risk: how probably the true time"
        f" is above the limit; then whether simple acceptance (risk up to {most[0]}) and a guard band w = U (up to"
        f" {most[1]}) accept it. No rule passes what is not wholly within its limit.",
        soft_wrap=True,
    )
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("effect", no_wrap=True)
    table.add_column("subject")
    for name in ("times", "ms", "U ms", "limit ms", "risk"):
        table.add_column(name, justify="right")
    for name in ("simple", "guard", "decides"):
        table.add_column(name)
    for one in rows:
        table.add_row(*_row(one))
    page.print(table)


def _said(stated: Decision | None) -> str:
    if stated is None:
        return "Decision rule: none is stated in the bench file; the whole interval must be within its limit."
    chain = f", measuring chain {stated.measuring_chain / 1e6:g} ms" if stated.measuring_chain else ""
    return f"Decision rule, stated in the bench file: {stated.rule}{chain} [{stated.source}]."


def _row(one: Decided) -> tuple[str, ...]:
    got, limit = one.figures, f"{one.limit_ns / 1e6:g}"
    what = one.what.replace("_from_", ", ").replace("_", " ")
    if got is None:
        return (what, one.subject, str(one.count), "?", "?", limit, "?", "?", "?", _by(one))
    figures = (f"{got.value / 1e6:.1f}", ms_up(2 * got.uncertainty), limit, chance(got.above(one.limit_ns)))
    return (
        what,
        one.subject,
        str(one.count),
        *figures,
        _answer(one, SIMPLE),
        _answer(one, GUARDED),
        _by(one),
    )


def _answer(one: Decided, rule: Rule) -> str:
    return "yes" if one.accepted(rule) else "NO"


def _by(one: Decided) -> str:
    return {"whole interval": "interval", SIMPLE.name: "simple", GUARDED.name: "guard"}[one.by]


def chance(probability: float) -> str:
    """A probability to two digits; what is below one in 10^9 is said to be so."""
    return "0" if probability == 0 else "<1e-9" if probability < 1e-9 else f"{probability:.2g}"
