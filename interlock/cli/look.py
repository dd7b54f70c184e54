"""`interlock look LOG...`: what is in the logs of one run, and a first draft of a bench description."""

from pathlib import Path

import click

from interlock.cli.common import LOGS, as_json_option, caution, console, finish, print_json
from interlock.cli.reading_bar import reading_bar
from interlock.verdict import Verdict

__all__ = ["command"]


@click.command(name="look")
@LOGS
@click.option("--dbc", type=click.Path(path_type=Path), help="Message database; without it no signals.")
@click.option(
    "--bench",
    type=click.Path(path_type=Path),
    help="Bench description whose sources and messages the logs hold.",
)
@click.option(
    "--draft",
    "target",
    type=click.Path(path_type=Path),
    help="Begin a bench description in this new file, from the logs and, for CAN logs, the DBC.",
)
@as_json_option
def command(
    logs: tuple[Path, ...], *, dbc: Path | None, bench: Path | None, target: Path | None, as_json: bool
) -> None:
    """Tell what is in the LOGs of one run: messages, rates, gaps, signals, edges, counters, doubts.

    With --bench a LOG of a scope or other recorder is read as the bench's sources say; SOURCE=FILE says which one.
    Exit code 3 if a doubt takes something away from what the logs can prove.
    """
    from interlock.cli.look_page import show
    from interlock.look import document, draft, look, look_by_bench, refuse_old, write_new

    if bench is not None and (dbc is not None or target is not None):
        raise click.UsageError("--bench names its own DBC and needs no draft: give it alone")
    if target is not None:
        refuse_old(target)
    with reading_bar(as_json=as_json):
        seen = look(logs, dbc) if bench is None else look_by_bench(bench, logs)
    begun = None if target is None else draft(seen, dbc, target)
    if target is not None and begun is not None:
        write_new(target, begun.text)
    if as_json:
        page_free = document(seen)
        if begun is not None:
            page_free["draft"] = {"path": str(target), "undecided": begun.undecided}
        print_json(page_free)
    else:
        page = console()
        show(page, seen)
        if begun is not None:
            page.print(
                f"{target}: a draft, {begun.undecided} entries undecided; list them with: interlock check {target}",
                soft_wrap=True,
            )
        caution(page)
    finish(Verdict.INCONCLUSIVE if seen.blind else Verdict.PASS)
