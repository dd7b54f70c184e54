"""What the verbs of the register share: who says it, when, days, and what is printed after a line was added."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from interlock.cli.common import Command, caution, console, day, finish, instant, print_json
from interlock.verdict import Verdict

if TYPE_CHECKING:
    from interlock.register import Entry, Person, Register

__all__ = ["REGISTER", "Said", "day_option", "said_options", "shown"]

REGISTER: Final = click.argument("register", type=click.Path(path_type=Path))


@dataclass(frozen=True, slots=True)
class Said:
    """When an entry is made, by whom, and what else they say."""

    at: datetime
    by: "Person | None"
    note: str


def day_option(name: str, text: str, *, required: bool = True) -> Callable[[Command], Command]:
    """An option that takes a day; `--date` is handed over as `day`."""
    taken = "day" if name == "--date" else name.removeprefix("--")
    return click.option(
        name,
        taken,
        required=required,
        metavar="DAY",
        callback=lambda *got: day(got[2]),
        help=f"{text} As 2026-01-31.",
    )


def said_options(*, by: bool = True) -> Callable[[Command], Command]:
    """Adds `--made-at` and, with `by`, `--by`, `--role` and `--note`; hands them over as `said`."""

    def add(command: Command) -> Command:
        @wraps(command)
        def called(
            *args: Any, made_at: str | None, name: str = "", role: str = "", note: str = "", **more: Any
        ) -> Any:
            from interlock.register import Person

            person = Person(name=name, role=role) if name or role else None
            return command(*args, said=Said(instant(made_at), person, note), **more)

        options = [
            click.option(
                "--made-at",
                metavar="TIME",
                help="Time of the entry (2026-01-31T14:05:00Z); now if not given.",
            )
        ]
        if by:
            options += [
                click.option("--by", "name", default="", help="Who enters it."),
                click.option("--role", default="", help="In which role, such as tester."),
                click.option("--note", default="", help="Anything else; kept as it is."),
            ]
        for option in reversed(options):
            called = option(called)
        return called  # type: ignore[return-value]  # click's options give back the command that they are put on

    return add


def shown(
    path: Path,
    register: "Register",
    entry: "Entry | None",
    *,
    as_json: bool,
    verdict: Verdict | None = None,
) -> None:
    """Print the entry that was added and the hash to note; end with the verdict of a test, else with pass."""
    if as_json:
        from interlock.register.shown import document

        held = None if verdict is None else (verdict, ())
        print_json(document(str(path), register, [] if entry is None else [entry], held))
    else:
        from interlock.cli.register_page import added

        page = console()
        added(page, register, entry)
        if verdict is not None:
            caution(page)
    finish(Verdict.PASS if verdict is None else verdict)
