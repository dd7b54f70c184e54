"""`interlock check BENCH`: prove the chain of a bench in every state that it can reach."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from interlock.cli.common import as_json_option, caution, console, finish, print_json, said

if TYPE_CHECKING:
    from interlock.chain import CheckResult

__all__ = ["command"]


@click.command(name="check")
@click.argument("bench", required=False, type=click.Path(path_type=Path))
@click.option("--all", "every", is_flag=True, help="List each property, not only what is no pass.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of bench files (for editors) and stop.")
@click.option(
    "--faults",
    type=click.IntRange(0, 3),
    help="Also judge what this many faults at a time do; if not given, as many as BENCH requires to be withstood.",
)
@click.option(
    "--svg",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Draw each counterexample: one SVG file each, with acts, timing picture and states.",
)
@as_json_option
def command(
    bench: Path | None, *, every: bool, schema: bool, faults: int | None, svg: Path | None, as_json: bool
) -> None:
    """Prove the chain of BENCH, as built, against what is required of it."""
    from interlock.bench import bench_fingerprint, bench_schema

    if schema:
        print_json(bench_schema())
        return
    if bench is None:
        raise click.UsageError("name a bench description, or ask for --schema")
    from interlock.chain import check, load_without_loops
    from interlock.cli.check_page import show
    from interlock.cli.clearing_page import show_clearing
    from interlock.cli.fault_page import show_faults
    from interlock.cli.masking_page import show_masking
    from interlock.cli.searching_bar import searching_bar
    from interlock.rating.masking import masking_of

    described = load_without_loops(bench)
    with searching_bar(as_json=as_json):
        result = check(described, file=bench, faults=faults)
    fingerprint = bench_fingerprint(bench, described)
    drawn = [] if svg is None else _drawn(result, svg)
    if as_json:
        document = result.as_json()
        document["bench"]["fingerprint"] = fingerprint
        if result.report is not None:
            document["masking"] = [one.as_json() for one in masking_of(described)]
        print_json(document)
    else:
        page = console()
        show(page, result, fingerprint, every=every)
        if result.report is not None:
            show_faults(page, result.report, every=every)
            if result.clearing is not None:
                show_clearing(page, result.clearing, every=every)
            show_masking(page, masking_of(described))
            page.print("Verdict of the whole check: ", said(result.verdict), sep="")
        for path in drawn:
            page.print(f"drawn: {path}", soft_wrap=True)
        caution(page)
    finish(result.verdict)


def _drawn(result: "CheckResult", folder: Path) -> list[Path]:
    """Every counterexample as a file in the folder, which is made if it is not there."""
    from interlock.evidence.story_svg import story_svgs

    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in story_svgs(result):
        (folder / name).write_text(text, encoding="utf-8")
        written.append(folder / name)
    return written
