"""The result of a check as text: what was explored, each property that is no pass with its acts, assumptions."""

from collections.abc import Iterable
from typing import Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from interlock.chain import Act, CheckResult, PropertyResult, Story
from interlock.cli.common import said
from interlock.cli.story_page import story_lines
from interlock.verdict import Verdict, worst

__all__ = ["show", "show_way"]

_INDENT: Final = 5


def show(page: Console, result: CheckResult, fingerprint: str, *, every: bool) -> None:
    """Print the result."""
    page.print(f"{result.bench_name} ({result.bench_id}), fingerprint {fingerprint[:16]}…", soft_wrap=True)
    given_up = "NOT every reachable state; what is not verified says below how far the search came"
    whole = "every reachable state" if result.whole else given_up
    page.print(f"{result.states:,} states and {result.transitions:,} steps between them examined: {whole}.")
    page.print(_table(result) if every else _summary(result))
    told: dict[tuple[str, ...], str] = {}
    for one in result.properties:
        if one.verdict is not Verdict.PASS:
            _property(page, one, told)
    page.print("This rests on:")
    for assumption in result.assumptions:
        page.print(f"  - {assumption}", soft_wrap=True)
    counts = {verdict: sum(one.verdict is verdict for one in result.properties) for verdict in Verdict}
    said_counts = ", ".join(f"{count} {str(one).replace('_', ' ')}" for one, count in counts.items() if count)
    page.print(Text.assemble("Verdict: ", said(result.verdict), f" ({said_counts})"))


def _summary(result: CheckResult) -> Table:
    """One row a property, whatever number of functions and units it was judged for."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("property")
    table.add_column("judged", justify="right")
    table.add_column("verdict")
    table.add_column("what it says", ratio=1)
    for name in dict.fromkeys(one.id for one in result.properties):
        same = [one for one in result.properties if one.id == name]
        title = same[0].title if len(same) == 1 else f"for example: {same[0].title}"
        table.add_row(name, str(len(same)), said(worst(one.verdict for one in same)), title)
    return table


def _table(result: CheckResult) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("property", "function", "subject", "verdict", "requirement"):
        table.add_column(name)
    for one in result.properties:
        table.add_row(one.id, one.function or "", one.subject or "", said(one.verdict), one.requirement)
    return table


def _property(page: Console, one: PropertyResult, told: dict[tuple[str, ...], str]) -> None:
    """One that is no pass; `told`: ways that a reader has seen already, and of which property."""
    where = ", ".join(part for part in (one.function, one.subject) if part)
    of = f" ({where})" if where else ""
    page.print(Text.assemble(said(one.verdict), f" {one.id}{of}: {one.sentence}"), soft_wrap=True)
    page.print(f"     required: {one.requirement} [{one.source}]", soft_wrap=True)
    if (way := tuple(act.words for act in one.acts)) in told:
        page.print(f"     The same acts as those of {told[way]} above.", soft_wrap=True)
        return
    if way:
        told[way] = one.id
    show_way(page, one.acts, one.story)


def show_way(page: Console, acts: Iterable[Act], story: Story | None) -> None:
    """Print a counterexample: its acts by number, and indented under them its states and its timing picture."""
    for number, act in enumerate(acts, 1):
        then = f" -> {'; '.join(act.changes)}" if act.changes else ""
        page.print(f"     {number}. {act.words}{then}", soft_wrap=True)
    for line in () if story is None else story_lines(story, page.width - _INDENT):
        page.print(Text(" " * _INDENT + line), soft_wrap=True)
