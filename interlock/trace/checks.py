"""Doubts that concern one message: lengths, gaps, alive counters, frozen and impossible values."""

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.interval import Interval
from interlock.trace.expected import Expected
from interlock.trace.flaws import Flaw, flaws_of
from interlock.trace.gather import Log, Stream
from interlock.trace.layout import SignalLayout
from interlock.trace.model import Quality, QualityKind, Samples
from interlock.trace.spans import Run, runs, runs_of_equal

__all__ = [
    "counters",
    "crowds",
    "flawed",
    "frozen",
    "gaps",
    "impossible_values",
    "missing",
    "signal_gaps",
    "slack_ns",
    "wrong_lengths",
]

_SLACK_PERIODS: Final = 0.75
"""A counter may be this far ahead of the time that passed, in periods: the frame before may have been stamped late
(common practice, no source)."""
_SENDER_PERIODS: Final = 0.25
"""The sender's own share of it, where the bench states a longer delay of stamps (common practice, no source)."""


def slack_ns(expected: Expected, width_ns: int = 0) -> float:
    """How far a healthy counter may be ahead of the time that passed between two stamps of that width."""
    late = _SENDER_PERIODS * expected.period_ns + expected.stamp_spread_ns + width_ns
    return max(_SLACK_PERIODS * expected.period_ns, late)


def wrong_lengths(log: Log, stream: Stream) -> Iterator[Quality]:
    """Frames of a length that the DBC does not give; they are not decoded."""
    layout = stream.layout
    if stream.good.all():
        return
    wrong = log.lengths[stream.rows] != layout.length
    for run in runs(wrong & ~stream.good, stream.times_ns):
        length = int(log.lengths[stream.rows[run.first]])
        yield Quality(
            QualityKind.WRONG_LENGTH,
            layout.name,
            None,
            run.span,
            log.place(int(stream.rows[run.first])),
            blinds=True,
            sentence=f"{_frames(run)} of {layout.name} not of {layout.length} bytes (the first one of {length}).",
        )


def _frames(run: Run) -> str:
    return "1 frame" if run.count == 1 else f"{run.count} frames"


def missing(expected: Expected, what: str, signal: str | None = None) -> Quality:
    """A message or signal that the bench names and the log lacks."""
    return Quality(
        QualityKind.MISSING,
        expected.message,
        signal,
        Interval(0, None),
        "the whole log",
        blinds=True,
        sentence=what,
    )


def gaps(log: Log, stream: Stream, expected: Expected) -> Iterator[Quality]:
    """Stretches without a frame that are longer than the bench allows, the log's both ends included."""
    rows, times = stream.good_rows, stream.good_times_ns
    limit = expected.max_gap_ns
    if int(times[0]) > limit:
        yield _gap(expected, Interval(0, int(times[0])), log.place(int(rows[0])), "before the first one")
    wide = np.diff(times) > limit
    for run in runs(wide, times[1:]):
        lo, hi = int(times[run.first]), int(times[run.last + 1])
        longest_ms = -(-int(np.diff(times)[run.first : run.last + 1].max()) // 1000) / 1e3
        yield _gap(
            expected,
            Interval(lo, hi),
            log.place(int(rows[run.first])),
            f"for {_told(longest_ms, limit / 1e6)} ms",
        )
    if log.end_ns - int(times[-1]) > limit:
        yield _gap(expected, Interval(int(times[-1]), None), log.place(int(rows[-1])), "after the last one")


def _told(ms: float, limit_ms: float) -> str:
    """To a tenth, or as far as needed to tell a gap that is just too long from one that is allowed."""
    return f"{ms:.3f}" if round(ms, 1) <= limit_ms else f"{ms:.1f}"


def _gap(expected: Expected, span: Interval, place: str, where: str) -> Quality:
    limit_ms = expected.max_gap_ns / 1e6
    sentence = f"No frame of {expected.message} {where}; the bench allows {limit_ms:g} ms."
    return Quality(QualityKind.GAP, expected.message, None, span, place, blinds=True, sentence=sentence)


def signal_gaps(
    log: Log, stream: Stream, expected: Expected, signals: dict[str, tuple[NDArray[np.int64], Samples]]
) -> Iterator[Quality]:
    """Stretches without a multiplexed signal that is evidence, longer than the bench allows of its message.

    The samples at both ends are fresh, so the doubt lies between them.
    """
    for name in sorted(expected.evidence & signals.keys()):
        rows, samples = signals[name]
        if len(rows) == len(stream.good_rows):
            continue
        times = np.concatenate(([-1], samples.times_ns, [log.end_ns + 1]))
        wide = np.concatenate(([False], np.diff(times) > expected.max_gap_ns))
        for run in runs(wide, times):
            lo, hi = int(times[run.first - 1]) + 1, int(times[run.last]) - 1
            end = None if run.last == len(times) - 1 else hi
            longest_ms = np.diff(times)[run.first - 1 : run.last].max() / 1e6
            place = log.place(int(rows[min(run.first - 1, len(rows) - 1)] if len(rows) else stream.rows[0]))
            sentence = (
                f"{expected.message} came without {name} for up to {longest_ms:.1f} ms;"
                f" the bench allows {expected.max_gap_ns / 1e6:g} ms."
            )
            yield Quality(QualityKind.GAP, expected.message, name, Interval(lo, end), place, True, sentence)


def crowds(log: Log, stream: Stream, expected: Expected) -> Iterator[Quality]:
    """More frames stamped alike than a period and the longest gap explain: such stamps tell no time.

    One finding from before the first such crowd to after the last.
    """
    stamps, counts = np.unique(stream.good_times_ns, return_counts=True)
    most = max(2, expected.max_gap_ns // expected.period_ns + 1)
    crowded = np.flatnonzero(counts > most)
    if len(crowded) == 0:
        return
    first, last = int(crowded[0]), int(crowded[-1])
    lo = int(stamps[first - 1]) if first else int(stamps[0]) - 1
    hi = int(stamps[last + 1]) if last + 1 < len(stamps) else None
    at = int(np.searchsorted(stream.good_times_ns, stamps[first]))
    place = log.place(int(stream.good_rows[at]))
    sentence = (
        f"{int(counts[first])} frames of {expected.message} bear the same stamp, though one comes every "
        f"{expected.period_ns / 1e6:g} ms: these stamps tell no time."
    )
    yield Quality(QualityKind.TIME_RELATIVE, expected.message, None, Interval(lo, hi), place, True, sentence)


def counters(log: Log, stream: Stream, expected: Expected, alive: Samples) -> Iterator[Quality]:
    """Frames whose alive counter repeats, and steps of the counter that lost frames do not explain."""
    rows, times = stream.good_rows, alive.times_ns
    steps = np.mod(np.diff(alive.values), expected.alive_modulo)
    stands = np.concatenate(([False], steps == 0))
    for run in runs(stands, times):
        yield Quality(
            QualityKind.COUNTER_STOPPED,
            expected.message,
            None,
            run.span,
            log.place(int(rows[run.first])),
            blinds=True,
            sentence=f"The alive counter of {expected.message} stands still for {_frames(run)}.",
        )
    slack = slack_ns(expected, max(reading.resolution_ns for reading in log.readings))
    jumps = np.concatenate(([False], _unexplained(steps, np.diff(times), expected, slack)))
    for run in runs(jumps, times):
        yield Quality(
            QualityKind.COUNTER_JUMPED,
            expected.message,
            None,
            Interval(run.span.lo, int(times[run.last])),
            log.place(int(rows[run.first])),
            blinds=True,
            sentence=f"The alive counter of {expected.message} jumps by {steps[run.first - 1]:g}.",
        )


def _unexplained(
    steps: NDArray[np.float64], passed_ns: NDArray[np.int64], expected: Expected, most_ns: float
) -> NDArray[np.bool_]:
    """Steps of two or more that run ahead of the time that passed; beyond the longest gap nothing is said here.

    A step that falls behind the time means a slow sender and lost frames: what came is fresh all the same.
    """
    ahead = steps * expected.period_ns - passed_ns
    unexplained: NDArray[np.bool_] = (steps > 1) & (ahead > most_ns) & (passed_ns <= expected.max_gap_ns)
    return unexplained | np.isnan(steps)


def frozen(
    log: Log, stream: Stream, expected: Expected, signals: dict[str, tuple[NDArray[np.int64], Samples]]
) -> Iterator[Quality]:
    """Values that carry noise and yet stand still for longer than a healthy bench shows."""
    for name, most in expected.noisy.items():
        if name not in signals:
            continue
        rows, samples = signals[name]
        same = np.concatenate(([False], samples.values[1:] == samples.values[:-1]))
        for run in runs_of_equal(same, most, samples.times_ns):
            sentence = f"{name} stands still for {run.count} samples; noise allows {most}."
            yield _frozen(expected, name, run, log.place(int(rows[run.first])), sentence)
    if not expected.noisy or stream.sampled is not None:
        return
    pages = [(stream.good_rows, stream.good_times_ns, min(expected.noisy.values()))]
    for (
        name,
        most,
    ) in expected.noisy.items():  # of multiplexed ones: the frames that hold it, among themselves
        if name in signals and len(signals[name][0]) < len(stream.good_rows):
            pages.append((signals[name][0], signals[name][1].times_ns, most))
    for rows, times, most in pages:
        same = log.repeats(stream.layout, rows)
        for run in runs_of_equal(same, most, times):
            sentence = f"{run.count} frames of {expected.message} are the same; noise allows {most}."
            yield _frozen(expected, None, run, log.place(int(rows[run.first])), sentence)


def _frozen(expected: Expected, signal: str | None, run: Run, place: str, sentence: str) -> Quality:
    return Quality(
        QualityKind.FROZEN, expected.message, signal, run.span, place, blinds=True, sentence=sentence
    )


def impossible_values(
    log: Log, layout: SignalLayout, rows: NDArray[np.int64], samples: Samples
) -> Iterator[Quality]:
    """Samples that are no number, or outside the range that the DBC states."""
    flaws = flaws_of(layout, samples.values)
    return flawed(log, (samples.message, samples.signal), rows, samples.times_ns, flaws)


def flawed(
    log: Log,
    name: tuple[str, str],
    rows: NDArray[np.int64],
    times_ns: NDArray[np.int64],
    flaws: Iterable[Flaw],
) -> Iterator[Quality]:
    """Each run of samples of a message and signal of which a flaw is; they stand in these rows of the log."""
    message, signal = name
    for flaw in flaws:
        for run in runs(flaw.bad, times_ns):
            count = "1 sample" if run.count == 1 else f"{run.count} samples"
            place = log.place(int(rows[run.first]))
            sentence = f"{count} of {signal}: {flaw.text}."
            yield Quality(flaw.kind, message, signal, run.span, place, blinds=True, sentence=sentence)
