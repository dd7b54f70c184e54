"""Which file of a run is of which source: as the command line says, else by name pattern and content."""

from collections.abc import Sequence
from fnmatch import fnmatchcase
from fractions import Fraction
from pathlib import Path
from typing import Final

from interlock.bench.refusal import advise, quoted
from interlock.bench.shows_models import Shows
from interlock.bench.source_models import Channel, Source, Table
from interlock.bench.sources import ONLY, source_of
from interlock.errors import LogError
from interlock.trace.inputs import CsvColumns, LogFile, Meaning, plain_name
from interlock.trace.mf4 import Held
from interlock.trace.readers import held_in
from interlock.trace.recognise import Recognised, recognise

__all__ = ["assigned", "log_paths", "may_be_table", "refuse_table"]

_TABLES: Final = frozenset({".csv", ".txt", ".tsv"})
_SEPARATORS: Final = {"comma": ",", "semicolon": ";", "tab": "\t"}
_HOLDS: Final = {
    "can": "CAN frames",
    "table": "a table with these columns",
    "vcd": "a value change dump",
    "sr": "a logic capture",
    "mf4": "MF4 channels",
}


def assigned(shows: Shows, logs: Sequence[Path]) -> dict[str, list[LogFile]]:
    """The files of each source, in the order given; raises LogError for a file of no source, or of several.

    A log written `NAME=FILE` is of the source of that name. A bench that describes no source has one of CAN frames.
    """
    if not logs:
        raise LogError("no log file given; name at least one")
    found: dict[str, list[LogFile]] = {}
    for log in logs:
        name, path = _split(shows, log)
        if not shows.sources:
            refuse_table(
                path, "describe it in the bench file under shows, sources (kind: table, with its columns)"
            )
            found.setdefault(ONLY, []).append(LogFile(path))
            continue
        name = name or _recognised(shows, path)
        found.setdefault(name, []).append(_log_file(name, shows.sources[name], path))
    return found


def log_paths(shows: Shows | None, logs: Sequence[Path]) -> list[Path]:
    """The files themselves, each once."""
    return list(dict.fromkeys(log if shows is None else _split(shows, log)[1] for log in logs))


def _split(shows: Shows, log: Path) -> tuple[str, Path]:
    """The name of a source and the file, of `NAME=FILE`; no name if none is written."""
    name, mark, rest = str(log).partition("=")
    if mark and name in shows.sources:
        return name, Path(rest)
    if mark and not log.exists() and Path(rest).exists():
        raise LogError(f"{log}: {quoted(name)} is no source of the bench; {advise(name, shows.sources)}")
    return "", log


def may_be_table(path: Path) -> bool:
    """Whether a file is named as tables are, and its content shows no format of frames or of captures."""
    if path.suffix.lower() not in _TABLES:
        return False
    seen = recognise(path)
    return seen.format is None and bool(seen.head)  # an empty file is nothing


def refuse_table(path: Path, instead: str) -> None:
    """LogError with what to do instead if the file looks like a table of samples, of which nothing is said."""
    if may_be_table(path):
        raise LogError(f"{path}: it holds no frames; if it is a table of samples, {instead}")


def _recognised(shows: Shows, path: Path) -> str:
    sources, seen = shows.sources, recognise(path)
    fitting = [name for name, source in sources.items() if _fits(source, path, seen)]
    if len(fitting) > 1 and seen.format == "mf4":
        fitting = _by_headings(shows, fitting, held_in(path)) or fitting
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise LogError(
            f"{path}: it may be of source {' or '.join(fitting)}; write {fitting[0]}={path} for the first, or give the "
            "sources 'files' in the bench file, a pattern of their files' names"
        )
    wanted = ", ".join(f"{name} ({_HOLDS[source.kind]})" for name, source in sources.items())
    raise LogError(
        f"{path}: it is of no source of the bench: {wanted}; write NAME={path} if it is of one of these, "
        "or describe its source in the bench file"
    )


def _by_headings(shows: Shows, names: Sequence[str], held: Held) -> list[str]:
    """Those of the sources whose CAN frames, or else whose signals, an MF4 file holds; if none, whose messages."""
    kinds = {name: shows.sources[name].kind for name in names}
    if held.frames:
        return [name for name in names if kinds[name] == "can"]
    plain = {*held.channels, *map(plain_name, held.channels)}
    whole = [
        name
        for name in names
        if kinds[name] == "mf4"
        and plain.issuperset(str(one.column) for one in shows.sources[name].signals.values())
    ]
    there = {source_of(shows, one) for one in map(plain_name, held.groups) if one in shows.messages}
    return whole or [name for name in names if name in there]


def _fits(source: Source, path: Path, seen: Recognised) -> bool:
    if source.files is not None and not fnmatchcase(path.name, source.files):
        return False
    match source.kind:
        case "can":
            return seen.frames or seen.format == "mf4"
        case "table":
            return (
                source.table is not None and seen.format is None and _has_columns(source, source.table, seen)
            )
    return seen.format == source.kind


def _has_columns(source: Source, table: Table, seen: Recognised) -> bool:
    columns = [
        *([] if table.time is None else [table.time]),
        *(one.column for one in source.signals.values()),
    ]
    cells = seen.cells(table.headings or table.first_line, _SEPARATORS[table.separator])
    numbers = [column for column in columns if isinstance(column, int)]
    return all(cells.count(str(column)) == 1 for column in columns if not isinstance(column, int)) and (
        max(numbers, default=0) <= len(cells)
    )


def _log_file(name: str, source: Source, path: Path) -> LogFile:
    if not source.sampled:
        return LogFile(path)
    meanings = {key: _meaning(channel) for key, channel in source.signals.items()}
    columns = None if source.table is None else _columns(source, source.table)
    wanted = () if columns is not None else tuple(one.channel for one in meanings.values())
    return LogFile(path, name, columns, wanted, meanings)


def _meaning(channel: Channel) -> Meaning:
    high, low = channel.high_from, channel.low_to
    return Meaning(
        channel=str(channel.column),
        unit=channel.unit,
        scaled=channel.scaled,
        factor=channel.factor,
        offset=channel.offset,
        levels=None if high is None or low is None else (low.value, high.value),
        inverted=channel.inverted,
        shortest_ns=channel.shortest or 0,
    )


def _columns(source: Source, table: Table) -> CsvColumns:
    rate = table.sample_rate
    return CsvColumns(
        signals={key: channel.column for key, channel in source.signals.items()},
        time=table.time,
        period_s=None if rate is None else 1 / Fraction(rate.value),
        time_unit=table.time_unit,
        delimiter=_SEPARATORS[table.separator],
        decimal="," if table.decimal == "comma" else ".",
        heading_row=table.headings,
        first_row=table.first_line,
        units={key: channel.unit for key, channel in source.signals.items() if not channel.scaled},
        unit_row=table.units or 0,
        changes_only=table.changes_only,
    )
