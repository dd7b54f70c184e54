"""`interlock replay BENCH LOG...`: judge the recorded logs of one run."""

from pathlib import Path

import click

from interlock.cli.common import BENCH, LOGS, as_json_option, caution, console, finish, print_json
from interlock.cli.reading_bar import reading_bar

__all__ = ["command"]


@click.command(name="replay")
@BENCH
@LOGS
@click.option("--all", "every", is_flag=True, help="List each finding, not only what is no pass.")
@as_json_option
def command(bench: Path, logs: tuple[Path, ...], *, every: bool, as_json: bool) -> None:
    """Judge the recorded LOGs of one run against everything that BENCH requires."""
    from interlock.bench import bench_fingerprint
    from interlock.chain import load_without_loops
    from interlock.cli.replay_page import show
    from interlock.replay import document, replay

    described = load_without_loops(bench)
    with reading_bar(as_json=as_json):
        judgement = replay(bench, described, logs)
    fingerprint = bench_fingerprint(bench, described)
    if as_json:
        print_json(document(judgement, fingerprint))
    else:
        page = console()
        show(page, judgement, fingerprint, every=every)
        caution(page)
    finish(judgement.verdict)
