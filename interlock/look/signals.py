"""The decoded signals of one message."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from interlock.look.counters import counter_in
from interlock.look.seen import Counter, SignalSeen
from interlock.look.values import summary
from interlock.trace.decode import decode
from interlock.trace.gather import Log, Stream
from interlock.trace.layout import SignalLayout
from interlock.trace.model import Samples

__all__ = ["Decoded", "counters_of", "decoded", "summaries"]

Decoded = Mapping[str, tuple[NDArray[np.int64], Samples]]
"""Rows of the log and samples of each signal, by its name."""


def decoded(log: Log, stream: Stream) -> Decoded:
    """Every signal of the message, from its frames of the right length or from what the recorder had decoded."""
    rows, times = stream.rows[stream.good], stream.times_ns[stream.good]
    group = stream.sampled
    if group is not None:
        at = rows - int(rows.min()) if len(rows) else rows
        return {
            name: (rows, Samples(group.message, name, group.units.get(name, ""), times, values[at]))
            for name, values in group.values.items()
        }
    units = {signal.name: signal.unit for signal in stream.layout.signals}
    if not units:
        return {}
    return {
        name: (rows[here], Samples(stream.layout.name, name, units[name], times[here], values))
        for name, (here, values) in decode(stream.layout, log.data[rows]).items()
    }


def summaries(stream: Stream, signals: Decoded) -> Iterator[SignalSeen]:
    """Each signal of the message in figures."""
    bits = {signal.name: signal.length for signal in stream.layout.signals if stream.sampled is None}
    selectors = {signal.selector for signal in stream.layout.signals}
    for name, (_, samples) in signals.items():
        yield replace(summary(samples, bits.get(name)), selects=name in selectors)


def counters_of(stream: Stream, signals: Decoded) -> tuple[Counter, ...]:
    """The signals of the message that look like an alive counter; what selects its pages is none."""
    if stream.sampled is not None:
        return ()
    selectors = {signal.selector for signal in stream.layout.signals}
    plain = (signal for signal in stream.layout.signals if signal.name not in selectors)
    found = (_counter(signal, signals[signal.name][1]) for signal in plain)
    return tuple(counter for counter in found if counter is not None)


def _counter(signal: SignalLayout, samples: Samples) -> Counter | None:
    plain = signal.scale == 1 and signal.offset == 0 and not signal.is_float and not signal.signed
    if not plain or signal.length > 32 or signal.selector is not None:
        return None
    return counter_in(signal.name, samples.values.astype(np.int64), signal.length)
