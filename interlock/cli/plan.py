"""`interlock plan BENCH`: derive the proof test of a bench."""

from pathlib import Path

import click

from interlock.cli.common import as_json_option, caution, console, print_json

__all__ = ["command"]


@click.command(name="plan")
@click.argument("bench", required=False, type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Write the procedure as YAML.")
@click.option("--sheet", type=click.Path(path_type=Path), help="Write a PDF sheet with fields to fill in.")
@click.option("--force", is_flag=True, help="Overwrite what stands at --out and --sheet.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of procedure files and stop.")
@as_json_option
def command(
    bench: Path | None, *, out: Path | None, sheet: Path | None, force: bool, schema: bool, as_json: bool
) -> None:
    """Derive the cheapest proof test that exercises everything that BENCH requires."""
    from interlock.bench import bench_fingerprint, load_bench
    from interlock.procedure import as_yaml, derive, procedure_of, procedure_schema

    if schema:
        print_json(procedure_schema())
        return
    if bench is None:
        raise click.UsageError("name a bench description, or ask for --schema")
    from interlock.cli.plan_page import show

    described = load_bench(bench)
    for path in (out, sheet):
        _refuse(path, force=force)
    plan, fingerprint = derive(described, file=bench), bench_fingerprint(bench, described)
    procedure = procedure_of(plan, fingerprint)
    written = [path for path in (out, sheet) if path is not None]
    if out is not None:
        _put(out, as_yaml(procedure).encode())
    if sheet is not None:
        from interlock.evidence.sheet import sheet_pdf

        _put(sheet, sheet_pdf(procedure))
    if as_json:
        print_json(plan.as_json(fingerprint))
    else:
        page = console()
        show(page, plan, fingerprint, written)
        caution(page)
    if plan.not_exercised:
        raise click.exceptions.Exit(3)


def _refuse(path: Path | None, *, force: bool) -> None:
    if path is not None and not force and (path.exists() or path.is_symlink()):
        raise click.UsageError(
            f"{path} exists already and is not overwritten; name a new file, or add --force"
        )


def _put(path: Path, data: bytes) -> None:
    from interlock.evidence.atomic import write_whole

    write_whole(path, data)
