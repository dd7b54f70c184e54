"""`interlock demo`: the whole job on the built-in bench, in under a minute."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.text import Text

from interlock.cautions import CAUTIONS
from interlock.cli.common import as_json_option, console, finish, print_json, said
from interlock.verdict import Verdict

if TYPE_CHECKING:
    from rich.console import Console

    from interlock.demo import Station

__all__ = ["command"]


@click.command(name="demo")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("reports/demo"),
    show_default=True,
    help="Folder for what the demo writes.",
)
@as_json_option
def command(*, out: Path, as_json: bool) -> None:
    """Walk the whole job on the built-in bench: prove, plan, record, judge, report, sign, verify, keep."""
    from interlock.demo import walk

    page = console()
    if not as_json:
        page.print("The whole job on an invented bench. Nothing here is evidence of any real bench.")
    done = []
    for station in walk(out, now=datetime.now(UTC).replace(microsecond=0)):
        done.append(station)
        if not as_json:
            _show(page, len(done), station)
    held = all(station.verdict is station.expected for station in done)
    if as_json:
        print_json({"schema": "interlock demo 1", "holds": held, "stations": [_plain(one) for one in done]})
    else:
        _closing(page, out, held)
    finish(Verdict.PASS if held else Verdict.FAIL)


def _show(page: "Console", number: int, station: "Station") -> None:
    refused = station.expected is Verdict.FAIL
    note = " (as it must be: refused)" if refused and station.verdict is Verdict.FAIL else ""
    if station.verdict is not station.expected:
        note = f" - THE DEMO IS BROKEN: {station.expected} was due"
    page.print(Text.assemble((f"\n{number}. {station.title}", "bold")), soft_wrap=True)
    for line in station.says:
        page.print(f"   {line}", soft_wrap=True)
    page.print(Text.assemble("   Verdict: ", said(station.verdict), note))


def _closing(page: "Console", out: Path, held: bool) -> None:
    page.print(Text("\nCautions", style="bold"))
    for text in CAUTIONS:
        page.print(f"   - {text}", soft_wrap=True)
    page.print(Text("\nWhere to look next", style="bold"))
    for what, where in (
        ("the report", out / "report_signed.pdf"),
        ("the bench description", out / "bench.yaml"),
        ("the proof test's sheet", out / "proof_test.pdf"),
        ("the recorded log", out / "proof_test.log"),
        ("the register", out / "tests.jsonl"),
    ):
        page.print(f"   {what}: {where}", soft_wrap=True)
    page.print(
        f"   judge the log again: interlock replay {out / 'bench.yaml'} {out / 'proof_test.log'}",
        soft_wrap=True,
    )
    page.print(
        "   describe your own bench: copy bench.yaml, and let `interlock check --schema` help your editor"
    )
    page.print("\nThe demo holds." if held else "\nThe demo does NOT hold.")


def _plain(station: "Station") -> dict[str, Any]:
    return {
        "title": station.title,
        "verdict": str(station.verdict),
        "expected": str(station.expected),
        "says": list(station.says),
        "files": [str(path) for path in station.files],
    }
