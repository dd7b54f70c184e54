"""A log in which every frame stands twice, as some recorders write or export it: each is taken once."""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.trace.gather import Log, Stream

__all__ = ["taken_once"]

_TOUCHING_NS: Final = 30_000
"""No two data frames of a bus end nearer to each other: the shortest takes 47 bits at 1 Mbit/s (ISO 11898-1)."""
_FEWEST: Final = 100  # frames; fewer may be alike by chance (common practice, no source)
_ALONE: Final = 2  # frames that may stand once: the recording may begin or end within a pair


def taken_once(log: Log, streams: dict[str, Stream]) -> tuple[dict[str, Stream], tuple[str, ...]]:
    """The streams without the second one of each pair, and a sentence that counts them, if every frame is in a pair.

    Both must be equal in every byte, stand side by side and bear one stamp, in stamps so fine that no bus carries two
    frames within one. Where only some frames stand twice nobody can tell what else the recorder did there, and all
    stay. `log` must still hold the keys of its rows.
    """
    second = _second(log)
    if second is None:
        return streams, ()
    taken = {}
    for name, stream in streams.items():
        again = second[stream.rows]
        good = np.flatnonzero(stream.good)
        if not (log.repeats(stream.layout, stream.rows[good]) | ~again[good]).all():
            return streams, ()
        rest = ~again
        taken[name] = replace(
            stream, rows=stream.rows[rest], times_ns=stream.times_ns[rest], good=stream.good[rest]
        )
    note = (
        f"every frame stands twice in the log, alike in every byte and in its stamp, nearer than a bus can carry two:"
        f" each was taken once, {np.count_nonzero(second)} were left out"
    )
    return taken, (note,)


def _second(log: Log) -> NDArray[np.bool_] | None:
    """Which rows repeat the one above, but for their payloads; None: not every frame stands twice."""
    first = np.diff(log.times_ns[:_FEWEST])
    if log.sampled or len(first) < _FEWEST - 1 or 2 * (np.count_nonzero(first == 0) + _ALONE) < _FEWEST:
        return None  # as nearly every log: a long one is not looked at as a whole
    apart = np.diff(log.times_ns)
    step = int(np.gcd.reduce(apart))  # of the stamps, whatever their digits
    if max(step, *(reading.resolution_ns for reading in log.readings)) >= _TOUCHING_NS:
        return None
    second = np.concatenate(([False], apart == 0))
    for column in (log.keys, log.lengths, log.channels):
        second[1:] &= column[1:] == column[:-1]
    second[log.offsets[:-1]] = False
    paired = second | np.append(second[1:], [False])
    return second if np.count_nonzero(~paired) <= _ALONE * len(log.readings) else None
