"""Log files and a DBC become one trace: read, joined, decoded, and every doubt about them written down."""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace import checks, quality
from interlock.trace.decode import decode
from interlock.trace.expected import Expected
from interlock.trace.gather import Log, Stream, Unknown, gather, streams_of
from interlock.trace.inputs import LogFile
from interlock.trace.layout import load_dbc
from interlock.trace.model import Quality, Samples, Trace
from interlock.trace.readers import read_log

__all__ = ["load"]

_MANY = 100  # from so many frames on it is no chance that all stamps share a step

Decoded = dict[str, tuple[NDArray[np.int64], Samples]]  # rows of the log and samples of each signal


def load(files: Sequence[Path | LogFile], dbc: Path | None, *, messages: Sequence[Expected]) -> Trace:
    """The trace of one run from its log files; LogError if a file cannot be read at all or they cannot be joined.

    Files whose stamps do not share a clock are loaded one by one and joined by `interlock.replay.joining`.
    """
    if not files:
        raise LogError("no log file given; name at least one")
    layouts = {} if dbc is None else load_dbc(dbc)
    pairs = [read_log(file) for file in files]
    paths = [file if isinstance(file, Path) else file.path for file in files]
    sources = tuple(source for _, source in pairs)
    log = gather(paths, [reading for reading, _ in pairs])
    del pairs  # what is needed of it is in the log
    streams, unknown = streams_of(log, layouts)
    decoded = {name: _decoded(log, stream) for name, stream in streams.items()}
    return Trace(
        start_ns=log.start_ns,
        absolute=all(reading.columns.absolute for reading in log.readings),
        end_ns=log.end_ns,
        messages={name: stream.good_times_ns for name, stream in streams.items()},
        signals={
            f"{message}.{name}": samples
            for message, signals in decoded.items()
            for name, (_, samples) in signals.items()
        },
        sources=sources,
        quality=tuple(_doubts(log, streams, unknown, decoded, messages)),
        resolution_ns=max(_step_ns(log), *(reading.resolution_ns for reading in log.readings)),
        message_width_ns={name: _width_ns(log, stream) for name, stream in streams.items()},
        notes=tuple(dict.fromkeys(note for reading in log.readings for note in reading.notes)),
    )


def _step_ns(log: Log) -> int:
    """The step in which the stamps move, however many digits they are written with; 1 for a short log."""
    return int(np.gcd.reduce(log.times_ns)) if len(log.times_ns) >= _MANY else 1


def _width_ns(log: Log, stream: Stream) -> int:
    """The coarsest stamps of all files that the message comes from."""
    if len(log.readings) == 1:
        return log.readings[0].resolution_ns
    return max(log.readings[int(file)].resolution_ns for file in np.unique(log.file_of(stream.rows)))


def _decoded(log: Log, stream: Stream) -> Decoded:
    rows, times = stream.good_rows, stream.good_times_ns
    group = stream.sampled
    if group is not None:
        at = rows - int(rows.min())
        return {
            name: (rows, Samples(group.message, name, group.units.get(name, ""), times, values[at]))
            for name, values in group.values.items()
        }
    units = {signal.name: signal.unit for signal in stream.layout.signals}
    decoded = {}
    for name, (here, values) in decode(stream.layout, log.data[rows]).items():
        at, stamps = (
            (rows, times) if here.all() else (rows[here], times[here])
        )  # shared, as a log may be long
        decoded[name] = (at, Samples(stream.layout.name, name, units[name], stamps, values))
    return decoded


def _doubts(
    log: Log,
    streams: dict[str, Stream],
    unknown: tuple[Unknown, ...],
    decoded: dict[str, Decoded],
    messages: Sequence[Expected],
) -> Iterator[Quality]:
    yield from quality.unread(log)
    yield from quality.backwards(log)
    yield from quality.unshared_clocks(log)
    yield from quality.oddities(log)
    yield from quality.unknown_identifiers(log, unknown)
    for name, stream in streams.items():
        yield from quality.mixed_buses(log, stream)
        yield from quality.mixed_files(log, stream)
        yield from checks.wrong_lengths(log, stream)
        for signal in stream.layout.signals:
            yield from checks.impossible_values(log, signal, *decoded[name][signal.name])
    for expected in messages:
        yield from _unexpected(log, streams.get(expected.message), expected, decoded)


def _unexpected(
    log: Log, stream: Stream | None, expected: Expected, decoded: dict[str, Decoded]
) -> Iterator[Quality]:
    if stream is None or not stream.good.any():
        yield checks.missing(expected, f"The log holds no frame of {expected.message} that could be read.")
        return
    signals = decoded[expected.message]
    for name in (*expected.noisy, *([expected.alive] if expected.alive else [])):
        if name not in signals:
            yield checks.missing(expected, f"The DBC gives {expected.message} no signal {name}.", name)
    if stream.sampled is None or not stream.sampled.continuous:
        yield from checks.gaps(log, stream, expected)
        yield from checks.crowds(log, stream, expected)
    if expected.alive in signals:
        yield from checks.counters(log, stream, expected, signals[expected.alive][1])
    yield from checks.frozen(log, stream, expected, signals)
