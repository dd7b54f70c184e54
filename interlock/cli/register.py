"""`interlock register ...`: the store of past tests; each verb of it is one line added, shown or verified."""

import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from interlock.cli.common import BENCH, as_json_option, caution, console, finish, print_json
from interlock.cli.reading_bar import reading_bar
from interlock.cli.register_common import REGISTER, Said, day_option, said_options, shown
from interlock.cli.register_drift import drift
from interlock.cli.register_entries import VERBS
from interlock.verdict import Verdict

if TYPE_CHECKING:
    from interlock.bench import Bench

__all__ = ["command"]


@click.group(name="register", invoke_without_command=True)
@click.option("--schema", is_flag=True, help="Print the JSON Schema of document and line, and stop.")
@click.pass_context
def command(ctx: click.Context, *, schema: bool) -> None:
    """Keep the past tests of one bench or more in one file that shows when a line was changed, cut or moved.

    The file is text, one JSON object a line, each with the SHA-256 of the line before. What a chain cannot show
    is lines cut off at its end, or all written anew from some line on: note the hash that is printed in the
    signed report, and compare with: verify --noted.
    """
    if schema:
        from interlock.register.shown import shown_schema

        print_json(shown_schema())
    elif ctx.invoked_subcommand is None:
        raise click.UsageError("say what to do with the register: new, add, count, ... (see --help)")


@command.command()
@REGISTER
@said_options(by=False)
@as_json_option
def new(register: Path, *, said: Said, as_json: bool) -> None:
    """Make a new, empty REGISTER."""
    from interlock.register import create

    shown(register, create(register, now=said.at), None, as_json=as_json)


@command.command()
@REGISTER
@BENCH
@click.argument("logs", nargs=-1, type=click.Path(path_type=Path), metavar="[LOG]...")
@click.option(
    "--result", type=click.Path(path_type=Path), help="What replay --json printed, instead of logs."
)
@day_option("--date", "Day of the test; needed if the log carries none.", required=False)
@said_options()
@as_json_option
def add(
    register: Path,
    bench: Path,
    logs: tuple[Path, ...],
    *,
    result: Path | None,
    day: date | None,
    said: Said,
    as_json: bool,
) -> None:
    """Judge the LOGs of one proof test against BENCH and enter it; the exit code is that of its verdict."""
    from interlock.bench import bench_fingerprint, load_bench
    from interlock.errors import RegisterError
    from interlock.register import append
    from interlock.register.judged import proof_test

    if bool(logs) == (result is not None):
        raise click.UsageError("give the logs of the test, or --result with what replay --json printed")
    described = load_bench(bench)
    fingerprint = bench_fingerprint(bench, described)
    with reading_bar(as_json=as_json):
        text, counts = (
            _of_logs(bench, described, fingerprint, logs) if result is None else (_text(result), None)
        )
    where = str(result or logs[0])
    name, test = proof_test(where, text, described.required.functions, day=day, counts=counts)
    if name.fingerprint != fingerprint:
        raise RegisterError(
            f"{where}: it is a result of another description than {bench}; judge the log anew"
        )
    book, entry = append(register, name, test, now=said.at, by=said.by, note=said.note)
    shown(register, book, entry, as_json=as_json, verdict=test.verdict)


def _of_logs(
    file: Path, bench: "Bench", fingerprint: str, logs: Sequence[Path]
) -> tuple[str, dict[str, Any]]:
    import json

    from interlock.replay import document, replay
    from interlock.replay.counts import counts_of

    judgement = replay(file, bench, logs)
    text = json.dumps(document(judgement, fingerprint), allow_nan=False)
    return text, counts_of(judgement).as_json()


def _text(path: Path) -> str:
    from interlock.errors import RegisterError

    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise RegisterError(
            f"{path}: cannot read it as text ({error}); give what replay --json printed"
        ) from error


@command.command()
@REGISTER
@click.option("--bench", "bench_id", help="Only the entries of the bench with this id.")
@as_json_option
def show(register: Path, *, bench_id: str | None, as_json: bool) -> None:
    """Verify REGISTER and show its entries."""
    from interlock.cli.register_page import show as page_of
    from interlock.errors import RegisterError
    from interlock.register import load_register
    from interlock.register.shown import document

    book = load_register(register)
    entries = [one for one in book.entries if bench_id in (None, one.bench.id)]
    if bench_id is not None and not entries:
        known = ", ".join(sorted({one.bench.id for one in book.entries})) or "none"
        raise RegisterError(f"{register}: it holds nothing of a bench '{bench_id}'; benches in it: {known}")
    if as_json:
        print_json(document(str(register), book, entries))
    else:
        page_of(console(), book, entries)
    finish(Verdict.PASS)


@command.command()
@REGISTER
@click.option("--noted", multiple=True, help="A hash noted earlier, as in a signed report; may be repeated.")
@as_json_option
def verify(register: Path, *, noted: tuple[str, ...], as_json: bool) -> None:
    """Tell whether every line of REGISTER is as it was written; exit code 1 if not."""
    from interlock.errors import RegisterError
    from interlock.register import Register, read_register
    from interlock.register.file import register_bytes
    from interlock.register.shown import document, holds

    for one in noted:
        if re.fullmatch("[0-9a-f]{64}", one) is None:
            raise click.UsageError(f"'{one}' is no hash of a register; give the 64 digits as they were noted")
    data = register_bytes(register)  # a file that cannot be read is bad input, not a broken register
    book: Register | None = None
    try:
        book = read_register(str(register), data)
        held = holds(book, noted)
    except RegisterError as error:
        held = Verdict.FAIL, (str(error),)
    if as_json:
        print_json(document(str(register), book, (), held))
    else:
        from interlock.cli.register_page import verified

        page = console()
        verified(page, str(register), book, held)
        caution(page)
    finish(held[0])


for _verb in (*VERBS, drift):
    command.add_command(_verb)
