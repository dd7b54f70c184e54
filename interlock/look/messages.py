"""The identifiers in a log, with or without a DBC, and when their frames came."""

from collections.abc import Mapping

import numpy as np

from interlock.look.counters import counters_in_bytes
from interlock.look.periods import longest_gap, periods
from interlock.look.seen import Counter, MessageSeen
from interlock.look.signals import Decoded, counters_of
from interlock.trace.gather import Log, Stream
from interlock.trace.layout import MessageLayout

__all__ = ["message_seen", "nameless"]


def nameless(log: Log) -> Mapping[int, MessageLayout]:
    """For each identifier in the log a message without signals, as long as its first frame; its name begins with #."""
    keys, rows = np.unique(log.keys, return_index=True)
    return {
        key: _nameless(key, int(log.lengths[row]))
        for key, row in zip(keys.tolist(), rows.tolist(), strict=True)
    }


def _nameless(key: int, length: int) -> MessageLayout:
    ident, extended = key & 0x1FFFFFFF, bool(key >> 31)
    return MessageLayout(f"#{ident:X}{'x' * extended}", ident, extended, length, ())


def message_seen(log: Log, stream: Stream, signals: Decoded) -> MessageSeen:
    """The message in figures; its counters are signals where the DBC knows it, else bytes."""
    layout, times = stream.layout, stream.times_ns
    return MessageSeen(
        identifier=layout.ident,
        extended=layout.extended,
        name=None if layout.name.startswith("#") else layout.name,
        decoded=stream.sampled is not None,
        count=len(times),
        first_ns=int(times[0]),
        last_ns=int(times[-1]),
        periods=periods(times),
        longest_gap=longest_gap(times, log.end_ns),
        lengths={} if stream.sampled is not None else _lengths(log, stream),
        channels=_channels(log, stream),
        counters=_counters(log, stream, signals),
    )


def _lengths(log: Log, stream: Stream) -> dict[int, int]:
    lengths, counts = np.unique(log.lengths[stream.rows], return_counts=True)
    return dict(zip(lengths.tolist(), counts.tolist(), strict=True))


def _counters(log: Log, stream: Stream, signals: Decoded) -> tuple[Counter, ...]:
    if stream.layout.name.startswith("#"):
        shortest = int(log.lengths[stream.rows].min())
        return counters_in_bytes(log.data[stream.rows][:, :shortest])
    return counters_of(stream, signals)


def _channels(log: Log, stream: Stream) -> tuple[str, ...]:
    """The buses that the frames came over, by the names that the files give them."""
    if stream.sampled is not None:
        return ()
    if all(len(reading.channels) == 1 for reading in log.readings) and len(log.readings) == 1:
        return log.readings[0].channels
    files, numbers = log.file_of(stream.rows), log.channels[stream.rows]
    names = (
        log.readings[file].channels[number]
        for file in np.unique(files).tolist()
        for number in np.unique(numbers[files == file]).tolist()
    )
    return tuple(dict.fromkeys(names))
