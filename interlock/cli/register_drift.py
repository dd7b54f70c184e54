"""`interlock register drift`: are the stops of a bench getting slower from one proof test to the next?"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.console import Console
from rich.text import Text

from interlock.cli.common import as_json_option, caution, console, finish, print_json, said
from interlock.cli.register_common import REGISTER
from interlock.verdict import worst

if TYPE_CHECKING:
    from interlock.register.drift import Trend

__all__ = ["drift"]


@click.command()
@REGISTER
@click.option("--bench", "bench_id", help="Only the bench with this id.")
@click.option(
    "--allowed",
    type=click.FloatRange(min=0, max=100, min_open=True),
    default=10.0,
    show_default=True,
    metavar="PERCENT",
    help="How much slower it may become, in percent of each limit.",
)
@as_json_option
def drift(register: Path, *, bench_id: str | None, allowed: float, as_json: bool) -> None:
    """Compare the latencies of the last proof test in REGISTER with those of all before; exit code 1 if slower."""
    from interlock.errors import RegisterError
    from interlock.register import load_register
    from interlock.register.drift import trends
    from interlock.register.drift_document import drift_document

    book = load_register(register)
    benches = dict.fromkeys(one.bench.id for one in book.entries if bench_id in (None, one.bench.id))
    found = {name: list(trends(book, name, allowed=allowed / 100)) for name in benches}
    if not any(found.values()):
        what = "proof test whose recording is sound" + (
            "" if bench_id is None else f" of a bench '{bench_id}'"
        )
        raise RegisterError(f"{register}: it holds no {what}; enter one: interlock register add")
    if as_json:
        print_json(drift_document(book, found, allowed / 100))
    else:
        page = console()
        _show(page, found)
        caution(page)
    finish(worst(one.verdict for trend in found.values() for one in trend))


def _show(page: Console, found: Mapping[str, Sequence["Trend"]]) -> None:
    for bench, trend in found.items():
        for one in trend:
            now = "without bound" if one.longest_ms is None else f"at most {one.longest_ms:.4g} ms"
            limit = "" if one.limit_ms is None else f" of {one.limit_ms:g} ms"
            what = f"{one.effect.replace('_', ' ')} ({one.subject})"
            head = f"{bench}: {one.function}, {what} on {one.latest}: {now}{limit}: "
            page.print(Text.assemble(head, said(one.verdict)), soft_wrap=True)
            page.print(Text(f"   {one.sentence}"), soft_wrap=True)
    verdict = worst(one.verdict for trend in found.values() for one in trend)
    page.print(Text.assemble("Verdict: ", said(verdict)))
