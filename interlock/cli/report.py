"""`interlock report BENCH LOG...`: check the bench, judge its logs, and write both down as a PDF."""

from pathlib import Path

import click

from interlock.cli.common import (
    BENCH,
    LOGS,
    as_json_option,
    caution,
    console,
    finish,
    instant,
    print_json,
    refuse_input,
    said,
)
from interlock.cli.reading_bar import reading_bar
from interlock.verdict import Verdict, worst

__all__ = ["command"]


@click.command(name="report")
@BENCH
@LOGS
@click.option("--out", required=True, type=click.Path(path_type=Path), help="The PDF to write.")
@click.option("--made-at", metavar="TIME", help="Time of making (2026-01-31T14:05:00Z); now if not given.")
@click.option(
    "--register",
    type=click.Path(path_type=Path),
    help="The register of the bench: the rating uses its counts, and the report holds the hash of its last line.",
)
@click.option(
    "--faults",
    type=click.IntRange(0, 3),
    help="Report what this many faults at a time do; if not given, as many as BENCH requires to be withstood.",
)
@click.option("--remarks", default="", help="Anything that the tester wants to say; printed as it is.")
@click.option("--demo", is_flag=True, help="Mark each page as a demo; only such a report takes a demo key.")
@as_json_option
def command(
    bench: Path,
    logs: tuple[Path, ...],
    *,
    out: Path,
    made_at: str | None,
    register: Path | None,
    faults: int | None,
    remarks: str,
    demo: bool,
    as_json: bool,
) -> None:
    """Check BENCH, judge the LOGs of one run, and write the report; the exit code is that of its verdict."""
    from interlock.evidence.document import write_report
    from interlock.evidence.gather import gather

    at = instant(made_at)
    refuse_input(out, register, benches=[bench], logs=logs)
    with reading_bar(as_json=as_json):
        material = gather(
            bench, logs, demo=demo, remarks=remarks, today=at.date(), register=register, faults=faults
        )
    write_report(out, material, made_at=at)
    done = (material.check, material.replay, material.rating)
    parts = [Verdict(part["verdict"]) for part in done if part is not None]
    verdict = worst(parts)
    if as_json:
        print_json({"schema": "interlock report 1", "report": str(out), "verdict": str(verdict)})
    else:
        page = console()
        page.print(f"{out}: written; sign it with: interlock sign", soft_wrap=True)
        page.print("Verdict in it: ", said(verdict), sep="")
        caution(page)
    finish(verdict)
