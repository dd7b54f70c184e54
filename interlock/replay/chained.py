"""The files of one recorder, one after another, as one trace: parts whose stamps go on, or begin anew after a pause."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np

from interlock.interval import Interval
from interlock.trace.checks import slack_ns
from interlock.trace.expected import Expected
from interlock.trace.model import Quality, QualityKind, Samples, Trace

__all__ = ["Link", "chained", "go_on"]

_WHOLE: Final = Interval(0, None)


@dataclass(frozen=True, slots=True)
class Link:
    """A part, and what must be added to its stamps (ns since its first) to get those since the first part's first."""

    trace: Trace
    offset: Interval


def go_on(traces: Sequence[Trace], gap_ns: int) -> bool:
    """Whether the stamps of parts without a date go on from part to part, as far as they themselves show.

    Each part begins within `gap_ns` of the end of the one before it, and too late to have begun anew.
    """
    return all(
        0 <= later.start_ns - (earlier.start_ns + earlier.end_ns) <= gap_ns < later.start_ns
        for earlier, later in pairwise(traces)
    )


def chained(links: Sequence[Link], expected: Mapping[str, Expected]) -> Trace:
    """One trace of all parts; each true instant lies within `message_width_ns` of its stamp.

    Between two parts each message is in doubt where the time that may have passed is longer than its longest gap
    (of `expected`; others are no evidence, but if nothing is expected, any time is too long for each).
    """
    first = links[0].trace
    if len(links) == 1:
        return first
    moved = [_moved(link) for link in links]
    names = dict.fromkeys(name for one in moved for name in one.messages)
    signals = dict.fromkeys(name for one in moved for name in one.signals)
    extra = max(_half(link.offset) for link in links)
    return Trace(
        start_ns=first.start_ns,
        absolute=first.absolute,
        end_ns=max(one.end_ns for one in moved),
        messages={
            name: np.concatenate([one.messages[name] for one in moved if name in one.messages])
            for name in names
        },
        signals={
            name: _joined([one.signals[name] for one in moved if name in one.signals]) for name in signals
        },
        sources=tuple(source for one in moved for source in one.sources),
        quality=(*_doubts(moved), *_seams(links, moved, expected)),
        resolution_ns=max(one.resolution_ns for one in moved) + extra,
        message_width_ns={
            name: max(one.message_width_ns.get(name, 1) for one in moved) + extra for name in names
        },
        notes=tuple(dict.fromkeys(note for one in moved for note in one.notes)),
        start_width_ns=max(one.start_width_ns for one in moved),
    )


def _middle(offset: Interval) -> int:
    return (offset.lo + (offset.hi or 0)) // 2


def _half(offset: Interval) -> int:
    return ((offset.hi or 0) - offset.lo + 1) // 2


def _moved(link: Link) -> Trace:
    by, trace = _middle(link.offset), link.trace
    return replace(
        trace,
        end_ns=trace.end_ns + by,
        messages={name: times + by for name, times in trace.messages.items()},
        signals={
            name: replace(samples, times_ns=samples.times_ns + by) for name, samples in trace.signals.items()
        },
        quality=tuple(replace(one, span=_shifted(one.span, by, trace.end_ns)) for one in trace.quality),
    )


def _shifted(span: Interval, by_ns: int, end_ns: int) -> Interval:
    """The span on the common stamps; one that lasts to the end of its part lasts no longer."""
    hi = end_ns if span.hi is None else span.hi
    return Interval(span.lo + by_ns, max(span.lo, hi) + by_ns)


def _joined(pieces: Sequence[Samples]) -> Samples:
    return replace(
        pieces[0],
        times_ns=np.concatenate([one.times_ns for one in pieces]),
        values=np.concatenate([one.values for one in pieces]),
    )


def _doubts(moved: Sequence[Trace]) -> Iterator[Quality]:
    """Those of all parts; that a message is missing counts only where no part has it."""
    there = {name for one in moved for name in one.messages}
    for one in moved:
        for doubt in one.quality:
            missing = doubt.kind is QualityKind.MISSING and doubt.signal is None and doubt.message in there
            if not missing:
                yield doubt


def _seams(
    links: Sequence[Link], moved: Sequence[Trace], expected: Mapping[str, Expected]
) -> Iterator[Quality]:
    """The time from the last sample of each message in one part to its first in the next, where it may be too long."""
    for name in dict.fromkeys(name for one in moved for name in one.messages):
        if expected and name not in expected:
            continue  # no evidence, as the bench says nothing of it
        parts = [
            (link, one) for link, one in zip(links, moved, strict=True) if len(one.messages.get(name, ()))
        ]
        limit = expected[name].max_gap_ns if name in expected else 0
        for (before, early), (after, late) in pairwise(parts):
            lo, hi = int(early.messages[name][-1]), int(late.messages[name][0])
            most = hi - lo + _half(before.offset) + _half(after.offset)
            span, place = Interval(min(lo, hi), max(lo, hi)), late.sources[0].path
            if most > limit:
                sentence = f"From the file before to this one no {name} for up to {most / 1e6:.1f} ms."
                yield Quality(QualityKind.GAP, name, None, span, place, True, sentence)
            passed = Interval(2 * (hi - lo) - most, most)
            if name in expected and not _counts_on(expected[name], early, late, passed):
                sentence = f"The alive counter of {name} does not go on from the file before to this one."
                yield Quality(QualityKind.COUNTER_JUMPED, name, None, _WHOLE, place, True, sentence)


def _counts_on(expected: Expected, early: Trace, late: Trace, passed: Interval) -> bool:
    """Whether the alive counter went on between two parts by as many steps as periods may have passed."""
    key = f"{expected.message}.{expected.alive}"
    if expected.alive is None or key not in early.signals or key not in late.signals:
        return True
    step = (late.signals[key].values[0] - early.signals[key].values[-1]) % expected.alive_modulo
    slack, turn = slack_ns(expected), expected.alive_modulo * expected.period_ns
    early_by, late_by = (
        passed.lo - slack - step * expected.period_ns,
        (passed.hi or 0) + slack - step * expected.period_ns,
    )
    return bool(late_by >= 0 and late_by // turn * turn >= early_by)
