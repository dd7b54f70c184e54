"""Log files and a DBC become one trace: read, joined, decoded, and every doubt about them written down."""

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.trace import checks, e2e, quality
from interlock.trace.canopen import node_facts
from interlock.trace.decode import decode, payloads
from interlock.trace.expected import Expected
from interlock.trace.gather import Log, Stream, Unknown, gather, on_bus, streams_of
from interlock.trace.inputs import LogFile
from interlock.trace.layout import MessageLayout, all_layouts
from interlock.trace.model import Quality, Samples, Trace
from interlock.trace.payloads import Payloads, decoding
from interlock.trace.readers import read_log

__all__ = ["load"]

_TOGETHER = 1 << 17  # frames whose payloads are decoded together
_MANY = 100  # from so many frames on it is no chance that all stamps share a step

Decoded = dict[str, tuple[NDArray[np.int64], Samples]]  # rows of the log and samples of each signal


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
    layouts = all_layouts(dbc, described)
    with decoding(layouts.keys()):
        pairs = [read_log(file) for file in files]
    paths = [file if isinstance(file, Path) else file.path for file in files]
    sources = tuple(source for _, source in pairs)
    log = gather(paths, [reading for reading, _ in pairs], one_zero=one_zero)
    del pairs  # what is needed of it is in the log
    streams, unknown = streams_of(log, layouts)
    streams.update(_on_their_bus(log, streams, messages))
    streams, unprotected = e2e.sift(log, streams, messages)
    steps = [_step_ns(log, file) for file in range(len(log.readings))]
    clock_steps = [_clock_step_ns(log, file, step) for file, step in enumerate(steps)]
    decoded: dict[str, Decoded] = {}
    kept = None if keep is None else {*keep, *_expected_signals(messages)}
    doubts = tuple(_doubts(log, streams, unknown, decoded, messages, kept))
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
        notes=tuple(dict.fromkeys(note for reading in log.readings for note in reading.notes)),
        start_width_ns=max(reading.date_width_ns for reading in log.readings),
    )


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


def _decoded(log: Log, stream: Stream) -> Decoded:
    rows, times = stream.good_rows, stream.good_times_ns
    group = stream.sampled
    if group is not None:
        at = rows - int(rows.min())
        whole = len(at) == len(group.times_ns) and bool((at[1:] > at[:-1]).all())  # shared, as it may be long
        return {
            name: (
                rows,
                Samples(
                    group.message, name, group.units.get(name, ""), times, values if whole else values[at]
                ),
            )
            for name, values in group.values.items()
        }
    said = {signal.name: (signal.unit, signal.labels) for signal in stream.layout.signals}
    decoded = {}
    for name, (here, values) in _values(log.data, stream.layout, rows).items():
        at, stamps = (
            (rows, times) if here.all() else (rows[here], times[here])
        )  # shared, as a log may be long
        decoded[name] = (at, Samples(stream.layout.name, name, said[name][0], stamps, values, said[name][1]))
    return decoded


def _values(
    data: NDArray[np.uint8] | Payloads, layout: MessageLayout, rows: NDArray[np.int64]
) -> dict[str, tuple[NDArray[np.bool_], NDArray[np.float64]]]:
    """As `decode`; of long payloads so many together that they take little memory beside what is kept of them."""
    if not isinstance(data, Payloads):
        return decode(layout, payloads(layout, data, rows))
    narrow = layout.length <= 8
    blocks = [
        decode(layout, data.block(rows[at : at + _TOGETHER], only_narrow=narrow))
        for at in range(0, max(len(rows), 1), _TOGETHER)
    ]
    if len(blocks) == 1:
        return blocks[0]
    return {
        name: (
            np.concatenate([block[name][0] for block in blocks]),
            np.concatenate([block[name][1] for block in blocks]),
        )
        for name in blocks[0]
    }


def _doubts(
    log: Log,
    streams: dict[str, Stream],
    unknown: tuple[Unknown, ...],
    decoded: dict[str, Decoded],
    messages: Sequence[Expected],
    kept: Collection[str] | None,
) -> Iterator[Quality]:
    """Every doubt; of the signals that are decoded for it those that are kept (None: all) stay in `decoded`."""
    yield from quality.unread(log)
    yield from quality.backwards(log)
    yield from quality.unshared_clocks(log)
    yield from quality.oddities(log)
    yield from quality.unknown_identifiers(log, unknown)
    for name, stream in streams.items():
        yield from quality.mixed_buses(log, stream)
        yield from quality.mixed_files(log, stream)
        yield from checks.wrong_lengths(log, stream)
        signals = _decoded(log, stream)
        for signal in stream.layout.signals:
            yield from checks.impossible_values(log, signal, *signals[signal.name])
        yield from node_facts(log, stream, {key: samples for key, (_, samples) in signals.items()})
        decoded[name] = {key: one for key, one in signals.items() if kept is None or f"{name}.{key}" in kept}
    for expected in messages:
        yield from _unexpected(log, streams.get(expected.message), expected, decoded)


def _expected_signals(messages: Sequence[Expected]) -> Iterator[str]:
    """The signals by which the freshness of the messages is told."""
    for one in messages:
        protected = [one.protection.checksum] if one.protection else []
        for name in (*one.noisy, *one.evidence, *([one.alive] if one.alive else []), *protected):
            yield f"{one.message}.{name}"


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
