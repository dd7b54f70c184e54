"""A derived proof test as text: its steps, its cost beside the bound, and what it cannot show."""

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from interlock.procedure import Plan, PlanStep

__all__ = ["show"]


def show(page: Console, plan: Plan, fingerprint: str, written: Sequence[Path]) -> None:
    """Print the plan."""
    head = f"Proof test of {plan.bench_name} ({plan.bench_id}), fingerprint {fingerprint[:16]}…"
    page.print(Text(head), soft_wrap=True)
    page.print(Text(_cost(plan)), soft_wrap=True)
    page.print(_steps(plan.steps))
    _dark(page, plan)
    for path in written:
        page.print(Text(f"Written: {path}"), soft_wrap=True)


def _cost(plan: Plan) -> str:
    over = plan.cost - plan.lower_bound
    near = (
        "no complete sequence of these acts is cheaper" if over <= 0 else f"at most {over} above the cheapest"
    )
    return (
        f"{len(plan.steps)} steps, cost {plan.cost}; proved lower bound {plan.lower_bound}: {near}. "
        f"Weights: {plan.costs_source}."
    )


def _steps(steps: Sequence[PlanStep]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    table.add_column("step", justify="right")
    table.add_column("do", ratio=3)
    table.add_column("see", ratio=5)
    table.add_column("wait", justify="right")
    table.add_column("shows faults", justify="right")
    for one in steps:
        table.add_row(
            str(one.number),
            Text(one.act),
            Text("; ".join(one.observe)),
            f"{one.wait_s} s",
            str(len(one.reveals) or ""),
        )
    return table


def _dark(page: Console, plan: Plan) -> None:
    shown = sum(len(one.reveals) for one in plan.steps)
    page.print(
        f"{shown} faults would show in these steps (which: --json). {len(plan.unrevealed)} would not; inspect instead:"
    )
    for inspect in dict.fromkeys(one.inspect for one in plan.unrevealed):
        page.print(Text(f"  - {inspect}"), soft_wrap=True)
        for one in plan.unrevealed:
            if one.inspect == inspect:
                page.print(Text(f"      {one.fault}: {one.words}", style="dim"), soft_wrap=True)
    for line in plan.by_hand:
        page.print(Text(line), soft_wrap=True)
    if plan.not_exercised:
        page.print(
            Text("No lawful act reaches what is required here; run `interlock check` first:", style="bold")
        )
        for goal in plan.not_exercised:
            page.print(f"  - {goal}")
    for out in plan.exclusions:
        page.print(
            Text(f"Excluded by the engineer: {out['fault']}: {out['reason']} [{out['source']}]"),
            soft_wrap=True,
        )
