"""The verbs of the register that enter what no log shows: counts, replacements, changes, and withdrawals."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from interlock.cli.common import BENCH, as_json_option
from interlock.cli.register_common import REGISTER, Said, day_option, said_options, shown

if TYPE_CHECKING:
    from interlock.register import BenchName

__all__ = ["VERBS"]


@click.command()
@REGISTER
@BENCH
@click.argument("device")
@day_option("--since", "Day of the reading before, or of the installation.")
@day_option("--until", "Day of this reading.")
@click.option("--operations", required=True, type=int, help="Switching cycles without load between the two.")
@click.option(
    "--load-breaks",
    required=True,
    type=int,
    help="Times that it broke its load between the two, such as emergency stops under torque; 0 for a switch.",
)
@click.option(
    "--source", required=True, help="Where the counts are from, such as the counter of the controller."
)
@said_options()
@as_json_option
def count(
    register: Path,
    bench: Path,
    device: str,
    *,
    since: date,
    until: date,
    operations: int,
    load_breaks: int,
    source: str,
    said: Said,
    as_json: bool,
) -> None:
    """Enter how often DEVICE switched between two readings; load breaks are counted apart."""
    from interlock.register import Operations

    values = {
        "device": device,
        "since": since,
        "until": until,
        "operations": operations,
        "load_breaks": load_breaks,
        "source": source,
    }
    _enter(register, _named(bench, device), Operations, values, said, as_json)


@click.command()
@REGISTER
@BENCH
@click.argument("device")
@day_option("--date", "Day of the replacement.")
@click.option("--part", required=True, help="Type and serial number of the new part.")
@said_options()
@as_json_option
def replaced(
    register: Path, bench: Path, device: str, *, day: date, part: str, said: Said, as_json: bool
) -> None:
    """Enter that DEVICE was replaced: its wear counts anew from that day."""
    from interlock.register import Replaced

    values = {"device": device, "date": day, "part": part}
    _enter(register, _named(bench, device), Replaced, values, said, as_json)


@click.command()
@REGISTER
@BENCH
@day_option("--date", "Day of the change.")
@click.option("--what", required=True, help="What was rewired, repaired or changed.")
@click.option("--device", "devices", multiple=True, help="A device that it touches; may be repeated.")
@said_options()
@as_json_option
def changed(
    register: Path,
    bench: Path,
    *,
    day: date,
    what: str,
    devices: tuple[str, ...],
    said: Said,
    as_json: bool,
) -> None:
    """Enter that BENCH was rewired or repaired: its proof test is due anew."""
    from interlock.register import Changed

    values = {"date": day, "what": what, "devices": devices}
    _enter(register, _named(bench, *devices), Changed, values, said, as_json)


@click.command()
@REGISTER
@click.argument("number", type=int)
@click.option("--reason", required=True, help="Why that entry no longer counts.")
@said_options()
@as_json_option
def withdraw(register: Path, number: int, *, reason: str, said: Said, as_json: bool) -> None:
    """Say that entry NUMBER no longer counts; it stays readable."""
    from interlock.errors import RegisterError
    from interlock.register import Withdrawn, load_register

    book = load_register(register)
    if not 1 <= number <= len(book.entries):
        raise RegisterError(f"{register}: there is no entry {number}; they go from 1 to {len(book.entries)}")
    bench = book.entries[number - 1].bench
    _enter(register, bench, Withdrawn, {"withdraws": number, "reason": reason}, said, as_json)


def _named(bench_file: Path, *devices: str) -> "BenchName":
    """The bench, after a look whether it has these devices."""
    from interlock.bench import bench_fingerprint, load_bench
    from interlock.errors import RegisterError
    from interlock.register import BenchName

    bench = load_bench(bench_file)
    known = [
        *bench.devices,
        *(name for name in (bench.rating or {}).get("wear", {}) if name not in bench.devices),
    ]
    for device in devices:
        if device not in known:
            raise RegisterError(f"{bench_file}: it has no device '{device}'; name one of {', '.join(known)}")
    return BenchName(
        id=bench.bench.id, name=bench.bench.name, fingerprint=bench_fingerprint(bench_file, bench)
    )


def _enter(
    register: Path, bench: "BenchName", kind: type[Any], values: dict[str, Any], said: Said, as_json: bool
) -> None:
    from pydantic import ValidationError

    from interlock.errors import RegisterError
    from interlock.register import append

    try:
        content = kind(**values)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = f"{first['loc'][0]}: " if first["loc"] else ""
        raise RegisterError(f"{register}: {where}{first['msg'].removeprefix('Value error, ')}") from None
    book, entry = append(register, bench, content, now=said.at, by=said.by, note=said.note)
    shown(register, book, entry, as_json=as_json)


VERBS: Final = (count, replaced, changed, withdraw)
