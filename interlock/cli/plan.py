"""`interlock plan BENCH`: derive the proof test of a bench, or print a procedure that stands in a file."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from interlock.cli.common import as_json_option, caution, console, print_json, refuse_input
from interlock.errors import InterlockError

if TYPE_CHECKING:
    from interlock.procedure import Procedure

__all__ = ["command"]


@click.command(name="plan")
@click.argument("bench", required=False, type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Write the procedure as YAML.")
@click.option("--sheet", type=click.Path(path_type=Path), help="Write a PDF sheet with fields to fill in.")
@click.option(
    "--procedure",
    "ready",
    type=click.Path(path_type=Path),
    help="Derive nothing: check this procedure file against BENCH, and print it (with --sheet on paper).",
)
@click.option("--force", is_flag=True, help="Overwrite what stands at --out and --sheet.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of procedure files and stop.")
@as_json_option
def command(
    bench: Path | None,
    *,
    out: Path | None,
    sheet: Path | None,
    ready: Path | None,
    force: bool,
    schema: bool,
    as_json: bool,
) -> None:
    """Derive the cheapest proof test that exercises everything that BENCH requires."""
    from interlock.procedure import procedure_schema

    if schema:
        print_json(procedure_schema())
        return
    if bench is None:
        raise click.UsageError("name a bench description, or ask for --schema")
    if out is not None and sheet is not None and out.resolve() == sheet.resolve():
        raise click.UsageError("--out and --sheet name the same file; name two")
    for path in (out, sheet):
        if path is not None:
            _refuse(path, force=force)
            refuse_input(path, ready, benches=[bench])
    if ready is None:
        _derived(bench, out, sheet, as_json=as_json)
    elif out is not None:
        raise click.UsageError("--out writes a derived procedure; leave it out with --procedure")
    else:
        _ready(bench, ready, sheet, as_json=as_json)


def _derived(bench: Path, out: Path | None, sheet: Path | None, *, as_json: bool) -> None:
    from interlock.bench import bench_fingerprint
    from interlock.chain import load_without_loops
    from interlock.cli.plan_page import show
    from interlock.procedure import as_yaml, derive, procedure_of

    described = load_without_loops(bench)
    plan, fingerprint = derive(described, file=bench), bench_fingerprint(bench, described)
    procedure = procedure_of(plan, fingerprint)
    written = [path for path in (out, sheet) if path is not None]
    if out is not None:
        _put(out, as_yaml(procedure).encode())
    _sheet(sheet, procedure)
    if as_json:
        print_json(plan.as_json(fingerprint))
    else:
        page = console()
        show(page, plan, fingerprint, written)
        caution(page)
    if plan.not_exercised:
        raise click.exceptions.Exit(3)


def _ready(bench: Path, ready: Path, sheet: Path | None, *, as_json: bool) -> None:
    from interlock.bench import bench_fingerprint
    from interlock.chain import load_without_loops
    from interlock.cli.procedure_page import show_procedure
    from interlock.procedure import load_procedure

    described = load_without_loops(bench)
    procedure = load_procedure(ready, described)
    for_bench = procedure.bench.fingerprint
    if for_bench is not None and for_bench != (today := bench_fingerprint(bench, described)):
        raise InterlockError(
            f"{ready}: it was written for the description with fingerprint {for_bench[:16]}…, and {bench} has "
            f"{today[:16]}…: the bench has changed since; derive the procedure anew"
        )
    _sheet(sheet, procedure)
    if as_json:
        print_json(procedure.model_dump(mode="json", exclude_none=True))
        return
    page = console()
    show_procedure(page, procedure)
    if sheet is not None:
        page.print(f"Written: {sheet}", soft_wrap=True)
    caution(page)


def _sheet(sheet: Path | None, procedure: "Procedure") -> None:
    if sheet is not None:
        from interlock.evidence.sheet import sheet_pdf

        _put(sheet, sheet_pdf(procedure))


def _refuse(path: Path, *, force: bool) -> None:
    if not force and (path.exists() or path.is_symlink()):
        raise click.UsageError(
            f"{path} exists already and is not overwritten; name a new file, or add --force"
        )


def _put(path: Path, data: bytes) -> None:
    from interlock.evidence.atomic import write_whole

    write_whole(path, data)
