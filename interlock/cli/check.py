"""`interlock check BENCH`: prove the chain of a bench in every state that it can reach."""

from pathlib import Path

import click

from interlock.cli.common import as_json_option, caution, console, finish, print_json

__all__ = ["command"]


@click.command(name="check")
@click.argument("bench", required=False, type=click.Path(path_type=Path))
@click.option("--all", "every", is_flag=True, help="List each property, not only what is no pass.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of bench files (for editors) and stop.")
@as_json_option
def command(bench: Path | None, *, every: bool, schema: bool, as_json: bool) -> None:
    """Prove the chain of BENCH, as built, against what is required of it."""
    from interlock.bench import bench_fingerprint, bench_schema, load_bench

    if schema:
        print_json(bench_schema())
        return
    if bench is None:
        raise click.UsageError("name a bench description, or ask for --schema")
    from interlock.chain import check
    from interlock.cli.check_page import show

    described = load_bench(bench)
    result = check(described, file=bench)
    fingerprint = bench_fingerprint(bench, described)
    if as_json:
        document = result.as_json()
        document["bench"]["fingerprint"] = fingerprint
        print_json(document)
    else:
        page = console()
        show(page, result, fingerprint, every=every)
        caution(page)
    finish(result.verdict)
