"""What several verbs share: arguments, exit codes, JSON on stdout, the page of a terminal."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar

import click
from rich.console import Console
from rich.text import Text

from interlock.cautions import IN_SHORT
from interlock.verdict import EXIT_CODE, Verdict

__all__ = ["BENCH", "LOGS", "as_json_option", "caution", "console", "finish", "print_json", "said"]

Command = TypeVar("Command", bound=Callable[..., Any])

BENCH: Final = click.argument("bench", type=click.Path(path_type=Path))
LOGS: Final = click.argument(
    "logs", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="LOG..."
)

_STYLE: Final = {
    Verdict.PASS: "green",
    Verdict.FAIL: "bold red",
    Verdict.INCONCLUSIVE: "bold yellow",
    Verdict.NOT_OBSERVED: "bold yellow",
}


def as_json_option(command: Command) -> Command:
    """Adds `--json`: one document on stdout and nothing else."""
    return click.option("--json", "as_json", is_flag=True, help="One JSON document on standard output.")(
        command
    )


def console() -> Console:
    """Where verbs print for people; at least 100 columns, so that tables stay readable in a pipe.

    Text is printed as it is: brackets in it, such as those around a source, are no markup.
    """
    found = Console(highlight=False, markup=False, emoji=False)
    if found.is_terminal:
        return found
    return Console(highlight=False, markup=False, emoji=False, width=max(100, found.width))


def said(verdict: Verdict) -> Text:
    """The verdict in words; the colour only repeats them."""
    return Text(str(verdict).replace("_", " "), style=_STYLE[verdict])


def print_json(document: Any) -> None:
    """One JSON document on stdout; NaN is refused."""
    click.echo(json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1))


def caution(page: Console) -> None:
    """The line under every verdict."""
    page.print(Text(IN_SHORT, style="italic"))


def finish(verdict: Verdict) -> None:
    """End the command with the exit code of its verdict."""
    raise click.exceptions.Exit(EXIT_CODE[verdict])
