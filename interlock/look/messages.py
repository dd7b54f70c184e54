"""The identifiers in a log, with or without a DBC, and when their frames came."""

from collections.abc import Mapping
from typing import Final

import numpy as np

from interlock.look.counters import counters_in_bytes
from interlock.look.periods import longest_gap, periods
from interlock.look.seen import Counter, MessageSeen
from interlock.trace.gather import Log, Stream
from interlock.trace.layout import MessageLayout

__all__ = ["PIECE", "message_seen", "nameless"]

PIECE: Final = 1 << 16
"""Frames that are looked at together."""


def nameless(log: Log) -> Mapping[int, MessageLayout]:
    """For each identifier in the log a message without signals, as long as its first frame; its name begins with #."""
    found: dict[int, MessageLayout] = {}
    for at in range(0, len(log.keys), PIECE):
        keys = log.keys[at : at + PIECE]
        for key in set(np.unique(keys).tolist()) - found.keys():
            row = at + int((keys == key).argmax())
            found[key] = _nameless(key, int(log.lengths[row]))
    return found


def _nameless(key: int, length: int) -> MessageLayout:
    ident, extended = key & 0x1FFFFFFF, bool(key >> 31)
    return MessageLayout(f"#{ident:X}{'x' * extended}", ident, extended, length, ())


def message_seen(log: Log, stream: Stream, counters: tuple[Counter, ...]) -> MessageSeen:
    """The message in figures; its counters are signals where the DBC knows it, else bytes."""
    layout, times = stream.layout, stream.times_ns
    return MessageSeen(
        identifier=layout.ident,
        extended=layout.extended,
        name=None if layout.name.startswith("#") else layout.name,
        decoded=stream.sampled is not None and stream.sampled.described is None,
        count=len(times),
        first_ns=int(times[0]),
        last_ns=int(times[-1]),
        periods=periods(times),
        longest_gap=longest_gap(times, log.end_ns),
        lengths={} if stream.sampled is not None else _lengths(log, stream),
        channels=_channels(log, stream),
        counters=_counters_in_bytes(log, stream) if layout.name.startswith("#") else counters,
    )


def _lengths(log: Log, stream: Stream) -> dict[int, int]:
    lengths, counts = np.unique(log.lengths[stream.rows], return_counts=True)
    return dict(zip(lengths.tolist(), counts.tolist(), strict=True))


def _counters_in_bytes(log: Log, stream: Stream) -> tuple[Counter, ...]:
    shortest = int(log.lengths[stream.rows].min())
    return counters_in_bytes(log.data[stream.rows][:, :shortest])


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
