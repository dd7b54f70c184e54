"""A procedure that stands in a file as text: what it is for, its steps, and what it leaves open."""

from rich.console import Console
from rich.table import Table
from rich.text import Text

from interlock.procedure import Procedure

__all__ = ["show_procedure"]


def show_procedure(page: Console, procedure: Procedure) -> None:
    """Print the procedure."""
    head, bench = procedure.procedure, procedure.bench
    page.print(Text(f"{head.title}: {bench.name} ({bench.id})"), soft_wrap=True)
    page.print(Text(f"When: {head.when}. Source: {head.source}."), soft_wrap=True)
    for line in procedure.before:
        page.print(Text(f"  before: {line}"), soft_wrap=True)
    table = Table(box=None, pad_edge=False, header_style="bold", padding=(0, 2, 0, 0))
    table.add_column("step", justify="right")
    table.add_column("do", ratio=3)
    table.add_column("see", ratio=5)
    table.add_column("wait", justify="right")
    for number, step in enumerate(procedure.steps, 1):
        table.add_row(str(number), Text(step.act), Text("; ".join(step.observe)), f"{step.wait_s} s")
    page.print(table)
    for line in procedure.after:
        page.print(Text(f"  after: {line}"), soft_wrap=True)
    for one in procedure.unrevealed:
        page.print(Text(f"  not shown by these steps: {one.words}; {one.inspect}"), soft_wrap=True)
