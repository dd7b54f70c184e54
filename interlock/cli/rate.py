"""`interlock rate BENCH`: levels, distances and dates by the published standards, each step shown."""

from pathlib import Path

import click

from interlock.cli.common import BENCH, as_json_option, caution, console, finish, print_json

__all__ = ["command"]


@click.command(name="rate")
@BENCH
@click.option(
    "--trace",
    "logs",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Log of a proof test, for the measured stop time; may be repeated for the files of one run.",
)
@click.option("--short", is_flag=True, help="Leave the steps of the computation out.")
@as_json_option
def command(bench: Path, *, logs: tuple[Path, ...], short: bool, as_json: bool) -> None:
    """Rate every safety function of BENCH that its section 'rating' describes."""
    from interlock.bench import bench_fingerprint, load_bench
    from interlock.evidence.rated import rated
    from interlock.rating.view import as_text

    described = load_bench(bench)
    result, stops = rated(bench, described, logs)
    if as_json:
        measured = {
            name: {
                "upper_s": one.upper_s,
                "effect": one.effect,
                "repeats": one.repeats,
                "sentence": one.sentence,
            }
            for name, one in stops.items()
        }
        identity = {"id": described.bench.id, "fingerprint": bench_fingerprint(bench, described)}
        document = {
            "schema": "interlock rate 1",
            "bench": identity,
            "stop_times": measured,
            **result.as_json(),
        }
        print_json(document)
    else:
        page = console()
        for name, one in stops.items():
            page.print(
                f"measured {one.effect} of {name}: {one.upper_s:.3f} s ({one.sentence})", soft_wrap=True
            )
        page.print(as_text(result, steps=not short), markup=False, soft_wrap=True)
        caution(page)
    finish(result.verdict)
