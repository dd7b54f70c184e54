"""Traces of several sources, each with its own clock, joined on the time base of the first."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from interlock.errors import LogError
from interlock.interval import Interval
from interlock.timing.align import Alignment
from interlock.timing.clock import SourceClock
from interlock.trace import Expected, Quality, QualityKind, Samples, Trace

__all__ = ["Part", "cut_to", "join"]

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Part:
    """The trace of one source, and how its stamps map to those of the first source; None: it is the first."""

    trace: Trace
    alignment: Alignment | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """One source on the common time base, with what the alignment adds to the width of its stamps."""

    trace: Trace
    clock: SourceClock | None
    begin: Interval  # of its first stamp
    end: Interval  # of its last
    extra_ns: int


def join(parts: Sequence[Part], expected: Iterable[Expected] = ()) -> Trace:
    """One trace of all sources; each true instant lies within `message_width_ns` of its stamp.

    Stamps of a source are placed in the middle of what its clock allows. Its messages are in doubt where it did not
    record. Raises LogError if no source or more than one has no alignment, or a message is in two sources.
    """
    if sum(part.alignment is None for part in parts) != 1:
        raise LogError("joining sources: give every source but one, the reference, an alignment")
    _check_names(parts)
    placed = [_placed(part) for part in parts]
    reference = next(one.trace for one in placed if one.clock is None)
    first = min(one.begin.lo for one in placed)
    last = max(one.end.hi or 0 for one in placed)
    widths = {name: _width(one, name) for one in placed for name in one.trace.messages}
    limits = {one.message: one.max_gap_ns for one in expected}
    return Trace(
        start_ns=reference.start_ns + first,
        absolute=reference.absolute,
        end_ns=last - first,
        messages={
            name: _common(one, times) - first for one in placed for name, times in one.trace.messages.items()
        },
        signals={
            name: replace(samples, times_ns=_common(one, samples.times_ns) - first)
            for one in placed
            for name, samples in one.trace.signals.items()
        },
        sources=tuple(source for one in placed for source in one.trace.sources),
        quality=tuple(_doubts(placed, first, last, limits)),
        resolution_ns=max(one.trace.resolution_ns + one.extra_ns for one in placed),
        message_width_ns=widths,
        notes=tuple(dict.fromkeys(_notes(parts))),
    )


def _check_names(parts: Sequence[Part]) -> None:
    seen: set[str] = set()
    for part in parts:
        twice = seen & set(part.trace.messages)
        if twice:
            raise LogError(
                f"{part.trace.sources[0].path}: message {min(twice)} is in two sources; say from which one it is taken"
            )
        seen |= set(part.trace.messages)


def _placed(part: Part) -> _Placed:
    trace = part.trace
    if part.alignment is None:
        return _Placed(trace, None, Interval(0, 0), Interval(trace.end_ns, trace.end_ns), 0)
    clock = part.alignment.clock
    ends = clock.common(0), clock.common(trace.end_ns)
    widest = max((end.hi or 0) - end.lo for end in ends)  # the drift's share grows towards both ends
    return _Placed(trace, clock, ends[0], ends[1], (widest + 1) // 2 + 1)


def _common(one: _Placed, times_ns: Ints) -> Ints:
    """The middle of what the clock allows; int64[n]."""
    if one.clock is None:
        return times_ns
    low, high = one.clock.common_bounds(times_ns)
    middle: Ints = low + (high - low) // 2
    return middle


def _width(one: _Placed, message: str) -> int:
    return one.trace.message_width_ns.get(message, one.trace.resolution_ns) + one.extra_ns


def _doubts(placed: Sequence[_Placed], first: int, last: int, limits: dict[str, int]) -> Iterator[Quality]:
    everywhere = {name for one in placed for name in one.trace.messages}
    for one in placed:
        for doubt in one.trace.quality:
            elsewhere = doubt.message in everywhere and doubt.message not in one.trace.messages
            if doubt.kind is QualityKind.MISSING and elsewhere:
                continue
            span = _span(one, doubt.span, first)
            names = list(one.trace.messages) if doubt.blinds and doubt.message is None else [doubt.message]
            yield from (replace(doubt, message=name, span=span) for name in names)
        yield from _outside(one, first, last, limits)


def _span(one: _Placed, span: Interval, first: int) -> Interval:
    common = span if one.clock is None else one.clock.common(span)
    return common.shift(Interval(-first, -first))


def _outside(one: _Placed, first: int, last: int, limits: dict[str, int]) -> Iterator[Quality]:
    """The time before and after a source, for each of its messages."""
    before, after = one.begin.lo - first, last - (one.end.hi or 0)
    place = one.trace.sources[0].path if one.trace.sources else "a source"
    for name in one.trace.messages:
        if limits and name not in limits:
            continue  # no evidence, as the bench says nothing of it
        limit = limits.get(name, 0)
        sentence = f"The source of {name} did not record here."
        if before > limit:
            span = Interval(0, (one.begin.hi or 0) - first)
            yield Quality(QualityKind.NOT_RECORDED, name, None, span, place, blinds=True, sentence=sentence)
        if after > limit:
            span = Interval(max(0, one.end.lo - first), None)
            yield Quality(QualityKind.NOT_RECORDED, name, None, span, place, blinds=True, sentence=sentence)


def _notes(parts: Sequence[Part]) -> Iterator[str]:
    for part in parts:
        yield from part.trace.notes
        if part.alignment is not None and part.trace.sources:
            yield f"{part.trace.sources[0].path}: {part.alignment.sentence}"


def cut_to(reference: Trace, joined: Trace, held: Collection[str] = ()) -> Trace:
    """What the sources of a joined trace hold from the first stamp of the reference to its last.

    Outside of it nothing tells what was demanded, and nothing is judged; a note says so if there is anything. `held`:
    messages of which only changes are recorded: what they showed before and after holds at the ends.
    """
    first = reference.start_ns - joined.start_ns
    last = first + reference.end_ns
    if first == 0 and joined.end_ns == last:
        return joined
    kept = {name: _rows(times, first, last, held=name in held) for name, times in joined.messages.items()}
    there = {name: rows for name, rows in kept.items() if len(rows)}
    left_out = ", ".join(name for name, rows in kept.items() if len(rows) < len(joined.messages[name]))
    note = f"samples of {left_out} from before or after the record by whose clock all is told are not judged"
    return replace(
        joined,
        start_ns=reference.start_ns,
        end_ns=reference.end_ns,
        messages={name: _at(joined.messages[name], rows, first, last) for name, rows in there.items()},
        signals={
            name: _cut(one, first, last, held=one.message in held)
            for name, one in joined.signals.items()
            if one.message in there
        },
        quality=tuple(_clipped(joined.quality, first, last)),
        notes=(*joined.notes, *([note] if left_out else [])),
    )


def _rows(times_ns: Ints, first: int, last: int, *, held: bool) -> Ints:
    """The rows within the ends; of a record of changes also the last before, and the last again if more follow.

    An end at which a row stands needs no other.
    """
    lo, hi = np.searchsorted(times_ns, first), np.searchsorted(times_ns, last, side="right")
    rows: Ints = np.arange(lo, hi)
    if held and lo > 0 and first not in times_ns[lo : lo + 1]:
        rows = np.concatenate([[lo - 1], rows])
    if held and hi < len(times_ns) and len(rows) and times_ns[hi - 1] != last:
        rows = np.concatenate([rows, rows[-1:]])
    return rows


def _at(times_ns: Ints, rows: Ints, first: int, last: int) -> Ints:
    """Stamps of these rows since the first end, none beyond an end; a row that stands twice holds to the last."""
    times: Ints = np.clip(times_ns[rows], first, last) - first
    if len(rows) > 1 and rows[-1] == rows[-2]:
        times[-1] = last - first
    return times


def _cut(samples: Samples, first: int, last: int, *, held: bool) -> Samples:
    rows = _rows(samples.times_ns, first, last, held=held)
    return replace(samples, times_ns=_at(samples.times_ns, rows, first, last), values=samples.values[rows])


def _clipped(doubts: Sequence[Quality], first: int, last: int) -> Iterator[Quality]:
    for doubt in doubts:
        lo, hi = doubt.span.lo, doubt.span.hi
        if (hi is None or hi > first) and lo < last:
            end = None if hi is None or hi >= last else hi - first
            yield replace(doubt, span=Interval(max(0, lo - first), end))
