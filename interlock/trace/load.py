"""Log files and a DBC become one trace: read, joined, decoded, and every doubt about them written down."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from interlock.errors import LogError
from interlock.trace import checks, e2e, quality
from interlock.trace.canopen import node_facts
from interlock.trace.decoded import read_by
from interlock.trace.expected import Expected
from interlock.trace.gather import Log, Stream, Unknown, gather, on_bus, streams_of
from interlock.trace.inputs import LogFile
from interlock.trace.layout import MessageLayout, all_layouts
from interlock.trace.memory import give_back
from interlock.trace.model import Quality, Trace
from interlock.trace.once import taken_once
from interlock.trace.payloads import decoding
from interlock.trace.reading import Reading
from interlock.trace.wanted import Decoded, plans_for, value_doubts, wanted_of

__all__ = ["load"]

_LONG = 1 << 21  # frames from which it matters what memory was needed while they were read
_MANY = 100  # from so many frames on it is no chance that all stamps share a step


def load(
    files: Sequence[Path | LogFile],
    dbc: Path | None,
    *,
    messages: Sequence[Expected],
    one_zero: bool = False,
    described: Sequence[MessageLayout] = (),
    keep: Collection[str] | None = None,
) -> Trace:
    """The trace of one run from its log files; LogError if a file cannot be read at all or they cannot be joined.

    `one_zero`: stamps without a date count from the same instant in all files. Files whose stamps do not share a
    clock are loaded one by one and joined by `interlock.replay.joining`. `described`: messages beside those of the DBC.
    `keep`: signals that are wanted, as MESSAGE.SIGNAL (None: all); others are looked at and let go, unless the doubts
    about an expected message rest on them.
    """
    if not files:
        raise LogError("no log file given; name at least one")
    layouts, wanted = all_layouts(dbc, described), wanted_of(keep, messages)
    with decoding(plans_for(layouts, messages, wanted)):
        pairs = [read_by(layouts, file) for file in files]
    sources = tuple(source for _, source in pairs)
    pairs.sort(key=lambda pair: _reach(pair[0]))  # of equal stamps those of the earlier file come first
    paths = [Path(source.path) for _, source in pairs]
    log = gather(paths, [reading for reading, _ in pairs], one_zero=one_zero)
    del pairs  # what is needed of it is in the log
    if len(log.times_ns) > _LONG:
        give_back()
    streams, unknown = streams_of(log, layouts)
    streams, once = taken_once(log, streams)
    log = replace(log, keys=log.keys[:0])  # nobody asks for them any more
    streams.update(_on_their_bus(log, streams, messages))
    streams, unprotected = e2e.sift(log, streams, messages)
    steps = [_step_ns(log, file) for file in range(len(log.readings))]
    clock_steps = [_clock_step_ns(log, file, step) for file, step in enumerate(steps)]
    decoded: dict[str, Decoded] = {}
    doubts = tuple(_doubts(log, streams, unknown, decoded, messages, wanted))
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
        quality=(*doubts, *unprotected),
        resolution_ns=max(*steps, *(reading.resolution_ns for reading in log.readings)) + _apart_ns(log),
        message_width_ns={name: _width_ns(log, stream, clock_steps) for name, stream in streams.items()},
        notes=tuple(dict.fromkeys([*once, *(note for reading in log.readings for note in reading.notes)])),
        start_width_ns=max(reading.date_width_ns for reading in log.readings),
    )


def _reach(reading: Reading) -> tuple[int, int]:
    """The earliest and the latest stamp of a file."""
    times = reading.columns.times_ns
    return int(times.min()), int(times.max())


def _on_their_bus(
    log: Log, streams: dict[str, Stream], messages: Sequence[Expected]
) -> Iterator[tuple[str, Stream]]:
    for one in messages:
        if one.bus is not None and one.message in streams:
            yield one.message, on_bus(log, streams[one.message], one.bus)


def _step_ns(log: Log, file: int) -> int:
    """The step in which a file's stamps of frames move, however many digits they have; 1 for a short file."""
    lo, hi = int(log.offsets[file]), int(log.offsets[file + 1])
    if hi - lo < _MANY or log.readings[file].sampled:
        return 1
    times = log.times_ns[lo:hi]
    return max(1, int(np.gcd.reduce(times if len(log.readings) == 1 else times - times[0])))


def _clock_step_ns(log: Log, file: int, step_ns: int) -> int:
    """The step that the logger's clock takes: an even raster may be that of the bus, unless frames share a stamp."""
    if step_ns <= log.readings[file].resolution_ns:
        return 1
    apart = np.diff(log.times_ns[int(log.offsets[file]) : int(log.offsets[file + 1])])
    return step_ns if apart[0] == 0 or (apart != apart[0]).any() else 1


def _apart_ns(log: Log) -> int:
    """How far apart the clocks of files that are joined by their dates may be."""
    return 0 if len(log.readings) == 1 else max(reading.date_width_ns for reading in log.readings)


def _width_ns(log: Log, stream: Stream, clock_steps: Sequence[int]) -> int:
    """The coarsest stamps of all files that the message comes from, and what the dates of the files leave open."""
    files = [0] if len(log.readings) == 1 else np.unique(log.file_of(stream.rows)).tolist()
    widths = [max(clock_steps[file], log.readings[file].resolution_ns) for file in files]
    return max(widths, default=1) + _apart_ns(log)


def _doubts(
    log: Log,
    streams: dict[str, Stream],
    unknown: tuple[Unknown, ...],
    decoded: dict[str, Decoded],
    messages: Sequence[Expected],
    wanted: Collection[str] | None,
) -> Iterator[Quality]:
    """Every doubt; of the signals that are decoded for it those that are wanted (None: all) stay in `decoded`."""
    yield from quality.unread(log)
    yield from quality.backwards(log)
    yield from quality.unshared_clocks(log)
    yield from quality.oddities(log)
    yield from quality.unknown_identifiers(log, unknown)
    for name, stream in streams.items():
        yield from quality.mixed_buses(log, stream)
        yield from quality.mixed_files(log, stream)
        yield from checks.wrong_lengths(log, stream)
        decoded[name] = {}
        yield from value_doubts(log, stream, wanted, decoded[name])
        yield from node_facts(log, stream)
    for expected in messages:
        yield from _unexpected(log, streams.get(expected.message), expected, decoded)


def _buses(log: Log) -> str:
    names = {name for reading in log.readings for name in reading.channels if name}
    return ", ".join(sorted(names)) or "none with a name"


def _unexpected(
    log: Log, stream: Stream | None, expected: Expected, decoded: dict[str, Decoded]
) -> Iterator[Quality]:
    if stream is None or not stream.good.any():
        on = "" if expected.bus is None else f" on the bus {expected.bus} (it has {_buses(log)})"
        yield checks.missing(
            expected, f"The log holds no frame of {expected.message}{on} that could be read."
        )
        return
    signals = decoded[expected.message]
    protected = [expected.protection.checksum] if expected.protection else []
    for name in (*expected.noisy, *([expected.alive] if expected.alive else []), *protected):
        if name not in signals:
            yield checks.missing(expected, f"The DBC gives {expected.message} no signal {name}.", name)
    if stream.sampled is None or not stream.sampled.continuous:
        yield from checks.gaps(log, stream, expected)
        yield from checks.signal_gaps(log, stream, expected, signals)
        yield from checks.crowds(log, stream, expected)
    if expected.alive in signals:
        yield from checks.counters(log, stream, expected, signals[expected.alive][1])
    yield from checks.frozen(log, stream, expected, signals)
