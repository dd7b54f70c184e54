"""Do frames of different times stand among each other: does a counter jump or stand again and again?"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.shows_models import Shows
from interlock.interval import Interval
from interlock.trace.model import Quality, QualityKind, Trace

__all__ = ["in_disorder"]

_BACK_NS: Final = 10_000_000_000  # frames come no later than this after others (common practice, no source)


def in_disorder(trace: Trace, shows: Shows) -> Iterator[Quality]:
    """A blinding doubt where the counter of a message jumps or stands again and again: nothing between is sure either.

    So it is where frames that were stamped late stand among those that were not. They are missing where they belong;
    so the doubt reaches back to where as many are missing as came too many. Frames that are late by whole turns of the
    counter, and come alone, look like those that belong there.
    """
    kinds = {QualityKind.COUNTER_JUMPED, QualityKind.COUNTER_STOPPED}
    for name, message in shows.messages.items():
        mine = (one for one in trace.quality if one.blinds and one.message == name)
        spans = [one.span for one in mine if one.kind in kinds and one.span.hi is not None]
        for lo, hi, count in _near(sorted(spans, key=lambda one: one.lo), message.longest_gap):
            since = lo if message.on_change else _missed(trace.messages[name], message.period, lo, hi)
            sentence = (
                f"The counter of {name} jumps or stands {count} times from {lo / 1e9:.3f} to {hi / 1e9:.3f} s: frames"
                " of different times may stand among each other there"
            )
            sentence += f", and from {since / 1e9:.3f} s on." if since < lo else "."
            place = f"{lo / 1e9:.3f} s after the first frame"
            yield Quality(QualityKind.COUNTER_JUMPED, name, None, Interval(since, hi), place, True, sentence)


def _missed(times: NDArray[np.int64], period_ns: int, lo: int, hi: int) -> int:
    """Since when as many frames are missing as are too many between two stamps; `lo` if not in the time before."""
    first, stop = np.searchsorted(times, [lo, hi + 1]).tolist()
    surplus = stop - first - 1 - round((hi - lo) / period_ns)
    begin = int(np.searchsorted(times, lo - _BACK_NS))
    lost = np.maximum(np.rint(np.diff(times[begin : first + 1])[::-1] / period_ns) - 1, 0)
    enough = np.flatnonzero(np.cumsum(lost) >= surplus)
    return lo if surplus < 1 or not len(enough) else int(times[first - 1 - enough[0]])


def _near(spans: list[Interval], gap_ns: int) -> Iterator[tuple[int, int, int]]:
    """Beginning, end and number of spans that follow on each other within a time; two or more. Given in order."""
    lo, hi, count = 0, 0, 0
    for span in spans:
        if count and span.lo <= hi + gap_ns:
            hi, count = max(hi, span.hi or hi), count + 1
            continue
        if count > 1:
            yield lo, hi, count
        lo, hi, count = span.lo, span.hi or span.lo, 1
    if count > 1:
        yield lo, hi, count
