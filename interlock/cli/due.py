"""`interlock due REGISTER BENCH...`: what is to be tested, replaced and timed when, by what the register holds."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

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
from interlock.cli.register_common import REGISTER
from interlock.verdict import worst

if TYPE_CHECKING:
    from interlock.register import Register
    from interlock.register.due import Due

__all__ = ["command"]


@click.command(name="due")
@REGISTER
@click.argument("benches", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="BENCH...")
@click.option("--today", metavar="DAY", help="The day to judge (2026-01-31); this day if not given.")
@click.option("--calendar", type=click.Path(path_type=Path), help="A calendar file (iCalendar) to write.")
@click.option(
    "--made-at",
    metavar="TIME",
    help="Time of making of the calendar (2026-01-31T14:05:00Z); now if not given.",
)
@as_json_option
def command(
    register: Path,
    benches: tuple[Path, ...],
    *,
    today: str | None,
    calendar: Path | None,
    made_at: str | None,
    as_json: bool,
) -> None:
    """Tell what is due when on each BENCH by its REGISTER; exit code 1 if anything is due now."""
    from interlock.register import load_register
    from interlock.register.due_document import due_document

    at = instant(made_at)
    if calendar is not None:
        refuse_input(calendar, register, benches=benches)
    judged_on = day(today) or at.date()
    book = load_register(register)
    named, items = _items(book, benches, judged_on)
    if calendar is not None:
        from interlock.evidence.atomic import write_whole
        from interlock.register.calendar import as_calendar

        write_whole(calendar, as_calendar(items, today=judged_on, made_at=at))
    if as_json:
        print_json(due_document(book, named, items, judged_on))
    else:
        from interlock.cli.due_page import show

        page = console()
        show(page, book, items, judged_on, calendar)
        caution(page)
    finish(worst(one.verdict for one in items))


def _items(
    book: "Register", benches: tuple[Path, ...], today: date
) -> tuple[list[tuple[str, str, str]], list["Due"]]:
    from interlock.bench import bench_fingerprint, load_bench
    from interlock.errors import RegisterError
    from interlock.rating.section import rating_of
    from interlock.register.due import due_of

    named, items = list[tuple[str, str, str]](), list["Due"]()
    for path in benches:
        bench = load_bench(path)
        if bench.bench.id in [ident for ident, _, _ in named]:
            raise RegisterError(f"{path}: bench '{bench.bench.id}' is given twice; give each bench once")
        fingerprint = bench_fingerprint(path, bench)
        named.append((bench.bench.id, bench.bench.name, fingerprint))
        rating = None if bench.rating is None else rating_of(path)
        items += due_of(book, bench, fingerprint, rating, today)
    return named, items
