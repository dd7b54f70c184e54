"""`interlock check BENCH`: prove the chain of a bench in every state that it can reach."""

from pathlib import Path

import click

from interlock.cli.common import as_json_option, caution, console, finish, print_json, said

__all__ = ["command"]


@click.command(name="check")
@click.argument("bench", required=False, type=click.Path(path_type=Path))
@click.option("--all", "every", is_flag=True, help="List each property, not only what is no pass.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of bench files (for editors) and stop.")
@click.option(
    "--faults",
    type=click.IntRange(0, 3),
    default=0,
    show_default=True,
    help="Also judge what this many faults at a time do.",
)
@as_json_option
def command(bench: Path | None, *, every: bool, schema: bool, faults: int, as_json: bool) -> None:
    """Prove the chain of BENCH, as built, against what is required of it."""
    from interlock.bench import bench_fingerprint, bench_schema, load_bench

    if schema:
        print_json(bench_schema())
        return
    if bench is None:
        raise click.UsageError("name a bench description, or ask for --schema")
    from interlock.chain import check
    from interlock.cli.check_page import show
    from interlock.cli.fault_page import show_faults

    described = load_bench(bench)
    result = check(described, file=bench, faults=faults)
    fingerprint = bench_fingerprint(bench, described)
    if as_json:
        document = result.as_json()
        document["bench"]["fingerprint"] = fingerprint
        print_json(document)
    else:
        page = console()
        show(page, result, fingerprint, every=every)
        if result.report is not None:
            show_faults(page, result.report, every=every)
            page.print("Verdict: ", said(result.verdict), sep="")
        caution(page)
    finish(result.verdict)
