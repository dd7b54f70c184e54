"""From the log files of one run, and a DBC if there is one, to what is in them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from interlock.bench import dbc_path, described_messages, load_bench
from interlock.bench.shows_models import Shows
from interlock.errors import LogError
from interlock.look.doubts import block_notes, log_doubts, stream_doubts
from interlock.look.files import file_seen
from interlock.look.messages import message_seen, nameless
from interlock.look.seen import Look, MessageSeen, SignalSeen
from interlock.look.signals import figures_of
from interlock.look.tables import suggested
from interlock.replay.assigned import assigned, may_be_table, refuse_table
from interlock.trace.decoded import read_by
from interlock.trace.gather import UndatedError, gather, streams_of
from interlock.trace.inputs import LogFile
from interlock.trace.layout import MessageLayout, all_layouts, layout_of
from interlock.trace.recognise import recognise

__all__ = ["look", "look_by_bench"]


def look(
    paths: Sequence[Path],
    dbc: Path | None = None,
    described: Sequence[MessageLayout] = (),
    shows: Shows | None = None,
) -> Look:
    """What is in these logs of one run; raises LogError if a file cannot be read or they cannot be joined.

    Without a DBC there are no signals (but those that a recorder had decoded), and lengths are not judged. With
    `shows`, the logs are taken to its sources as when they are judged, and each source keeps a time of its own.
    """
    if not paths:
        raise LogError("no log file given; name at least one")
    judged = dbc is not None or bool(described)
    layouts = all_layouts(dbc, described)
    groups = _undescribed(paths) if shows is None else list(assigned(shows, paths).values())
    looks = [one for files in groups for one in _looks(files, layouts, judged=judged)]
    told = _told(paths) if shows is None else []
    first = looks[0]
    apart = [f"the times of {one.files[0].path} count from its own start" for one in looks[1:]]
    return Look(
        files=tuple(file for one in looks for file in one.files),
        dbc=None if dbc is None else str(dbc),
        start_ns=first.start_ns,
        absolute=first.absolute,
        duration_ns=max(one.duration_ns for one in looks),
        messages=tuple(message for one in looks for message in one.messages),
        signals=tuple(signal for one in looks for signal in one.signals),
        doubts=tuple(doubt for one in looks for doubt in one.doubts),
        notes=tuple(dict.fromkeys([*(note for one in looks for note in one.notes), *told, *apart])),
    )


def _undescribed(paths: Sequence[Path]) -> list[list[LogFile]]:
    """Logs of frames and captures together, each table of samples by itself; LogError for one that tells no time."""
    tables = {path: suggested(recognise(path).head) for path in paths if may_be_table(path)}
    for path, found in tables.items():
        if found is None:
            refuse_table(path, "give the bench file that describes it, with --bench")
    others = [LogFile(path) for path in paths if path not in tables]
    alone = [[LogFile(path, columns=one.columns)] for path, one in tables.items() if one is not None]
    return [*([others] if others else []), *alone]


def _told(paths: Sequence[Path]) -> list[str]:
    """How a bench description would state the tables that were read as their first lines suggest."""
    found = ((path, suggested(recognise(path).head)) for path in paths if may_be_table(path))
    return [
        f"{path}: read as its first lines suggest; a bench file would say 'table: {{{one.words}}}' under shows, sources"
        for path, one in found
        if one is not None
    ]


def look_by_bench(bench_file: Path, paths: Sequence[Path]) -> Look:
    """What is in the logs of a run on a bench, by its messages and sources."""
    bench = load_bench(bench_file)
    described = [layout_of(message) for message in described_messages(bench_file, bench)]
    return look(paths, dbc_path(bench_file, bench), described, bench.shows)


def _looks(files: Sequence[LogFile], layouts: Mapping[int, MessageLayout], *, judged: bool) -> Iterator[Look]:
    """What is in the logs of one recorder; file by file if nothing says how their times compare."""
    sampled = any(file.meanings for file in files)
    try:
        yield from [_look(part, layouts, judged=judged) for part in (_alone(files) if sampled else [files])]
    except UndatedError:
        yield from (_look(part, layouts, judged=judged) for part in _alone(files))


def _alone(files: Sequence[LogFile]) -> list[Sequence[LogFile]]:
    return [[file] for file in files]


def _look(files: Sequence[LogFile], layouts: Mapping[int, MessageLayout], *, judged: bool) -> Look:
    """What is in the logs of one recorder."""
    pairs = [read_by(layouts, file) for file in files]
    seen = tuple(file_seen(reading, source) for reading, source in pairs)
    absolute = all(reading.columns.absolute for reading, _ in pairs)
    log = gather([file.path for file in files], [reading for reading, _ in pairs])
    del pairs  # what is needed of it is in the log
    streams, _ = streams_of(log, {**nameless(log), **layouts})
    log = replace(log, keys=log.keys[:0])  # nobody asks for them any more
    ordered = sorted(streams.values(), key=lambda one: (one.sampled is not None, one.layout.key))
    doubts = list(log_doubts(log, ordered, judged=judged))
    messages, signals = list[MessageSeen](), list[SignalSeen]()
    for stream in ordered:
        figures = figures_of(log, stream)
        messages.append(message_seen(log, stream, figures.counters))
        signals += figures.signals
        doubts += stream_doubts(log, stream, figures.doubts)
    return Look(
        files=seen,
        dbc=None,
        start_ns=log.start_ns,
        absolute=absolute,
        duration_ns=log.end_ns,
        messages=tuple(messages),
        signals=tuple(signals),
        doubts=tuple(doubts),
        notes=tuple(
            dict.fromkeys([*(note for one in log.readings for note in one.notes), *block_notes(ordered)])
        ),
    )
