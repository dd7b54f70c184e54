"""Which signals of a run are wanted: what is kept of payloads for them, and their samples, decoded one by one."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.checks import flawed, impossible_values
from interlock.trace.decode import one_by_one
from interlock.trace.e2e import checked_by
from interlock.trace.excerpt import Excerpt
from interlock.trace.expected import Expected
from interlock.trace.flaws import can_be_flawed, flaws_of
from interlock.trace.gather import Log, Stream
from interlock.trace.layout import MessageLayout, SignalLayout
from interlock.trace.model import Quality, Samples
from interlock.trace.pages import rows_of
from interlock.trace.payloads import Plans
from interlock.trace.reading import Sampled

__all__ = ["Decoded", "plans_for", "signals_of", "value_doubts", "wanted_of"]

Decoded = dict[str, tuple[NDArray[np.int64], Samples]]
"""Rows of the log and samples of each signal of a message."""

_TOGETHER: Final = 1 << 17  # frames that are looked at together
_One = Iterator[tuple[str, NDArray[np.int64], Samples]]


def wanted_of(keep: Collection[str] | None, messages: Sequence[Expected]) -> Collection[str] | None:
    """The signals that are wanted, as MESSAGE.SIGNAL, and those by which the freshness of messages is told.

    None: all.
    """
    return None if keep is None else {*keep, *_expected(messages)}


def _expected(messages: Sequence[Expected]) -> Iterator[str]:
    for one in messages:
        protected = [one.protection.checksum] if one.protection else []
        for name in (*one.noisy, *one.evidence, *([one.alive] if one.alive else []), *protected):
            yield f"{one.message}.{name}"


def plans_for(
    layouts: Mapping[int, MessageLayout], messages: Sequence[Expected], wanted: Collection[str] | None
) -> Plans:
    """What is kept of the payloads of each message, by its key; None: all, as they have eight bytes at most."""
    expected = {one.message: one for one in messages}
    return {
        key: None if layout.length <= 8 else _excerpt(layout, expected.get(layout.name), wanted)
        for key, layout in layouts.items()
    }


def _excerpt(layout: MessageLayout, expected: Expected | None, wanted: Collection[str] | None) -> Excerpt:
    names = [one.name for one in layout.signals if wanted is None or f"{layout.name}.{one.name}" in wanted]
    check = None if expected is None else checked_by(layout, expected)
    return Excerpt.of(layout, names, check, told_apart=expected is not None and bool(expected.noisy))


def value_doubts(
    log: Log, stream: Stream, wanted: Collection[str] | None, decoded: Decoded
) -> Iterator[Quality]:
    """The doubts about the values of a message; its wanted signals go in `decoded`."""
    name, doubts = stream.layout.name, dict[str, list[Quality]]()
    layouts = {signal.name: signal for signal in stream.layout.signals}
    names = {key for key in layouts if wanted is None or f"{name}.{key}" in wanted}
    there, suspects = (
        (set(layouts), layouts.keys() - names) if stream.sampled else _suspects(log, stream, names)
    )
    for key, rows, samples in signals_of(log, stream, names | suspects):
        doubts[key] = list(impossible_values(log, layouts[key], rows, samples))
        if key in names:
            decoded[key] = rows, samples
    for key, signal in layouts.items():
        yield from doubts.get(key, ()) if key in there else _of_cut(log, stream, signal)


def _suspects(log: Log, stream: Stream, names: set[str]) -> tuple[set[str], set[str]]:
    """The signals of which the bits were kept; and which of them, but for these, hold a value that cannot be.

    Some frames are looked at together: these signals are not kept, so they shall need no memory.
    """
    rows, found = stream.good_rows, set[str]()
    layout, _ = log.content(stream.layout, rows[:0])
    others = {one.name: one for one in layout.signals if one.name not in names and can_be_flawed(one)}
    for at in range(0, len(rows) if others else 0, _TOGETHER):
        data = log.content(stream.layout, rows[at : at + _TOGETHER])[1]
        for name, _, values in one_by_one(layout.only(others), data):
            if name in others and any(flaw.bad.any() for flaw in flaws_of(others[name], values)):
                found.add(name)
    return {signal.name for signal in layout.signals}, found


def _of_cut(log: Log, stream: Stream, signal: SignalLayout) -> Iterator[Quality]:
    """The doubts about a signal that was only looked at."""
    rows, times = stream.good_rows, stream.good_times_ns
    here, flaws = log.flaws(stream.layout, signal, rows)
    if flaws:
        yield from flawed(log, (stream.layout.name, signal.name), rows[here], times[here], flaws)


def signals_of(log: Log, stream: Stream, names: Collection[str]) -> _One:
    """Each of these signals of a message, and the rows in which it is; a long log has no room for all at once."""
    if stream.sampled is not None:
        yield from _sampled(stream.sampled, stream)
        return
    if not names:
        return
    rows, times = stream.good_rows, stream.good_times_ns
    layout, data = log.content(stream.layout, rows)
    said = {signal.name: (signal.unit, signal.labels) for signal in layout.signals}
    for name, here, values in one_by_one(layout.only(names), data):
        if name in names:
            at, stamps = (rows, times) if here.all() else (rows[here], times[here])  # shared, if it can be
            yield name, at, Samples(layout.name, name, said[name][0], stamps, values, said[name][1])


def _sampled(group: Sampled, stream: Stream) -> _One:
    rows, times = stream.good_rows, stream.good_times_ns
    known = {signal.name: signal for signal in stream.layout.signals}
    for name, where, values in rows_of(group, rows):
        signal = known[name]
        yield (
            name,
            rows[where],
            Samples(group.message, name, signal.unit, times[where], values, signal.labels),
        )
