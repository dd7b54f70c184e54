"""`interlock rate BENCH`: levels, distances and dates by the published standards, each step shown."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from interlock.cli.common import (
    as_json_option,
    caution,
    console,
    day,
    finish,
    instant,
    print_json,
    refuse_input,
)

if TYPE_CHECKING:
    from interlock.rating.result import RatingResult

__all__ = ["command"]


@click.command(name="rate")
@click.argument("bench", required=False, type=click.Path(path_type=Path))
@click.option(
    "--trace",
    "logs",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Log of a proof test, for the measured stop time; may be repeated for the files of one run.",
)
@click.option(
    "--register",
    type=click.Path(path_type=Path),
    help="The register of the bench: its counts and replacements stand beside what BENCH states.",
)
@click.option(
    "--today", metavar="DAY", help="Day on which wear is judged (2026-01-31); this day if not given."
)
@click.option("--out", type=click.Path(path_type=Path), help="A PDF to write: a report of the rating alone.")
@click.option(
    "--made-at", metavar="TIME", help="Time of making of the PDF (2026-01-31T14:05:00Z); now if not given."
)
@click.option("--demo", is_flag=True, help="Mark each page as a demo; only such a report takes a demo key.")
@click.option("--short", is_flag=True, help="Leave the steps of the computation out of the text.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of what --json prints, and stop.")
@as_json_option
def command(
    bench: Path | None,
    *,
    logs: tuple[Path, ...],
    register: Path | None,
    today: str | None,
    out: Path | None,
    made_at: str | None,
    demo: bool,
    short: bool,
    schema: bool,
    as_json: bool,
) -> None:
    """Rate every safety function of BENCH that its section 'rating' describes."""
    if schema:
        from interlock.evidence.rated import rating_schema

        print_json(rating_schema())
        return
    if bench is None:
        raise click.UsageError("name a bench description, or ask for --schema")
    if out is None and (made_at is not None or demo):
        raise click.UsageError("--made-at and --demo belong to --out: name the PDF to write")
    from interlock.evidence.document import write_report
    from interlock.evidence.gather import gather_rating

    at = instant(made_at)
    if out is not None:
        refuse_input(out, register, benches=[bench], logs=logs)
    result, material = gather_rating(bench, logs, demo=demo, today=day(today) or at.date(), register=register)
    if out is not None:
        write_report(out, material, made_at=at)
    if as_json:
        print_json(material.rating)
    else:
        _show(result, dict(material.rating or {}), out, steps=not short)
    finish(result.verdict)


def _show(result: "RatingResult", document: dict[str, Any], out: Path | None, *, steps: bool) -> None:
    from interlock.evidence.counted import counted
    from interlock.rating.iso13855 import round_up_ms
    from interlock.rating.view import as_text

    page = console()
    for name, one in document["stop_times"].items():
        text = f"measured {one['effect']} of {name}: at most {round_up_ms(one['upper_s']):.3f} s ({one['sentence']})"
        page.print(text, markup=False, soft_wrap=True)
    for line in counted(document):
        page.print(line, markup=False, soft_wrap=True)
    page.print(as_text(result, steps=steps), markup=False, soft_wrap=True)
    if out is not None:
        page.print(f"{out}: written; sign it with: interlock sign", markup=False, soft_wrap=True)
    caution(page)
