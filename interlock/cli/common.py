"""What several verbs share: arguments, exit codes, JSON on stdout, the page of a terminal."""

import json
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, date, datetime
from itertools import chain
from pathlib import Path
from typing import Any, Final, NoReturn, TypeVar

import click
from rich.console import Console
from rich.text import Text

from interlock.cautions import IN_SHORT
from interlock.verdict import EXIT_CODE, Verdict

__all__ = [
    "BENCH",
    "LOGS",
    "as_json_option",
    "caution",
    "console",
    "day",
    "finish",
    "instant",
    "print_json",
    "refuse_input",
    "said",
]

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


def instant(text: str | None) -> datetime:
    """A time with its zone, as ISO 8601; None: now. Raises a usage error."""
    if text is None:
        return datetime.now(UTC).replace(microsecond=0)
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        raise click.UsageError(f"'{text}' is no time; write it as 2026-01-31T14:05:00Z") from error
    if found.tzinfo is None:
        raise click.UsageError(f"'{text}' has no time zone; write it as 2026-01-31T14:05:00Z")
    return found


def day(text: str | None) -> date | None:
    """A day as year, month and day; None stays None. Raises a usage error."""
    if text is None:
        return None
    try:
        if re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", text) is None:  # no other form of ISO 8601
            raise ValueError
        return date.fromisoformat(text)
    except ValueError:
        raise click.UsageError(f"'{text}' is no day; write it as 2026-01-31") from None


class _Page(Console):
    """Leaves it to `main` to say what happens if nobody reads on."""

    def on_broken_pipe(self) -> NoReturn:
        raise BrokenPipeError  # rich would end with 1, the code of a verdict


def console() -> Console:
    """Where verbs print for people; at least 100 columns, so that tables stay readable in a pipe.

    Text is printed as it is: brackets in it, such as those around a source, are no markup.
    """
    found = _Page(highlight=False, markup=False, emoji=False)
    if found.is_terminal:
        return found
    return _Page(highlight=False, markup=False, emoji=False, width=max(100, found.width))


def said(verdict: Verdict) -> Text:
    """The verdict in words; the colour only repeats them."""
    return Text(str(verdict).replace("_", " "), style=_STYLE[verdict])


def refuse_input(
    target: Path, *read: Path | None, benches: Iterable[Path] = (), logs: Iterable[Path] = ()
) -> None:
    """Usage error if what is to be written is one of the files that are read: it would be lost.

    `benches`: bench descriptions, with the DBC and EDS files that they name; `logs`: each FILE or SOURCE=FILE.
    """
    if not target.exists():
        return
    named = (file for bench in benches for file in _named_in(bench))
    for one in chain(read, benches, logs, _files_of(logs), named):
        if one is not None and one.exists() and target.samefile(one):
            raise click.UsageError(
                f"{target} is read here and would be overwritten; name another file to write"
            )


def _files_of(logs: Iterable[Path]) -> Iterator[Path]:
    """The files of logs that are given as SOURCE=FILE."""
    for _, mark, rest in (str(log).partition("=") for log in logs):
        if mark:
            yield Path(rest)


def _named_in(bench: Path) -> Iterator[Path]:
    from interlock.bench import message_files
    from interlock.chain import load_without_loops

    yield from (file for file, _ in message_files(bench, load_without_loops(bench)))


def print_json(document: Any) -> None:
    """One JSON document on stdout; NaN is refused."""
    click.echo(json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1))


def caution(page: Console) -> None:
    """The line under every verdict."""
    page.print(Text(IN_SHORT, style="italic"))


def finish(verdict: Verdict) -> None:
    """End the command with the exit code of its verdict."""
    raise click.exceptions.Exit(EXIT_CODE[verdict])
