"""Do the stamps keep to what the bench description says of them, and where was the whole recording silent?"""

from collections.abc import Iterator, Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter1d

from interlock.bench.shows_models import Message, Shows
from interlock.bench.sources import delay_of, message_of, reference_of, source_of, sources_of
from interlock.interval import Interval
from interlock.timing.stamps import Blocked, blocked
from interlock.trace.model import Quality, QualityKind, Trace

__all__ = ["late_stamps", "silences", "unchanged"]

Ints = NDArray[np.int64]

_DRIFT: Final = 0.02
"""Share by which a sender's period may differ from the nominal one (common practice, no source)."""


_NEAR_NS: Final = 10_000_000_000
"""Frames further apart than this prove nothing about each other's stamps."""
_ENOUGH: Final = 20
"""Blocks; fewer tell nothing of a recorder's way."""
_AT_ONCE: Final = 50
"""Frames nearer than their period by this factor came at once."""
_TOUCHING_NS: Final = 30_000
"""No two data frames of a bus end nearer to each other: the shortest takes 47 bits at 1 Mbit/s (ISO 11898-1)."""
_LOOKED_AT: Final = 1 << 15
"""Frames of each message that are looked at for the recorder's way of stamping."""
_SOME: Final = 200
"""One frame in so many is no chance."""
_OTHERWISE: Final = {
    QualityKind.TIME_BACKWARDS,
    QualityKind.COUNTER_STOPPED,
    QualityKind.COUNTER_JUMPED,
    QualityKind.SEVERAL_CHANNELS,
}


def late_stamps(trace: Trace, shows: Shows) -> Iterator[Quality]:
    """A blinding doubt for each stretch of a message whose stamps came later than the stated delay allows.

    Frames that came less than a period after one another show that the earlier ones had been stamped late; so does a
    counter that did not move on while time passed. A quarter of a period is allowed for the sender. Of a message that
    is sent on change too, only frames that no change can have sent are held against the period.
    """
    gathered = {source: gathered_ns(trace, shows, source) for source in sources_of(shows)}
    blocks: dict[str, Blocked] | None = None
    for name, times, late in _late(trace, shows):
        every, delay = gathered[source_of(shows, name)], delay_of(shows, name)
        width = trace.message_width_ns.get(name, trace.resolution_ns)
        if every * 9 // 10 > delay.most - delay.least + 2 * width:
            yield _told_whole(name, every)
        elif (late > 0).any():
            blocks = _blocks(trace, shows) if blocks is None else blocks
            yield from _told(name, times, _hint(trace, shows, name, blocks), late)


def gathered_ns(trace: Trace, shows: Shows, source: str) -> int:
    """How far apart a recorder stamps what it has gathered of a bus; 0: its frames are stamped as they come.

    Half of its frames or more stand nearer to another than any bus can carry them, though its stamps are finer.
    """
    if sources_of(shows)[source].sampled:
        return 0
    mine = {name: times for name, times in trace.messages.items() if source_of(shows, name) == source}
    width = max((trace.message_width_ns.get(name, trace.resolution_ns) for name in mine), default=0)
    parts = [_once(times[:_LOOKED_AT]) for times in mine.values() if len(times)]
    if len(parts) < 2 or 2 * width > _TOUCHING_NS:
        return 0
    until = min(int(part[-1]) for part in parts)
    stamps = np.sort(np.concatenate([part[part <= until] for part in parts]), kind="stable")
    close = np.diff(stamps) + width < _TOUCHING_NS
    together = np.concatenate((close, [False])) | np.concatenate(([False], close))
    begins = stamps[1:][~close]
    if len(begins) < _ENOUGH or np.count_nonzero(together) * 2 < len(stamps):
        return 0
    return int(np.quantile(np.diff(begins), 0.25))


def _once(times: Ints) -> Ints:
    """The stamps without those that repeat the one before: an export may hold each frame twice."""
    return times[np.diff(times, prepend=-_TOUCHING_NS) >= _TOUCHING_NS]


def _told_whole(name: str, every_ns: int) -> Quality:
    sentence = (
        f"The recorder of {name} stamps frames in blocks {every_ns / 1e6:.1f} ms apart, nearer to each other than a bus"
        " can carry them: when their content was true is known no better. Add so much to 'most' of 'stamp_delay' and"
        " to each 'longest_gap', or log with a recorder that stamps each frame as it comes."
    )
    place = "0.000 s after the first frame"
    return Quality(QualityKind.TIME_RELATIVE, name, None, Interval(0, None), place, True, sentence)


def _late(trace: Trace, shows: Shows) -> Iterator[tuple[str, Ints, NDArray[np.float64]]]:
    """By message the frames held against the period, and how much later each is stamped than is allowed; ns."""
    quiet = silences(trace, shows)
    for name, message in shows.messages.items():
        times = trace.messages.get(name)
        if times is None or len(times) < 2:
            continue
        width = trace.message_width_ns.get(name, trace.resolution_ns)
        delay = delay_of(shows, name)
        allowed = delay.most - delay.least + 2 * width + message.period // 4
        steps = None if message.on_change else _steps(trace, name, message, times)
        if message.on_change:
            times = times[unchanged(trace, name, message.alive)]
        expected = np.full(len(times) - 1, 1) if steps is None else steps
        slip: Ints = np.diff(times) - expected * message.period
        for span in (*quiet, *_doubted(trace, name)):
            slip[_between(times, span)] = 0
        counted = steps is not None
        if steps is not None:
            slip[(steps <= 0) | (slip < -message.longest_gap)] = 0  # the counter itself is in doubt
        yield name, times, _lateness(times, slip, message.period, counted) - allowed


def _blocks(trace: Trace, shows: Shows) -> dict[str, Blocked]:
    """By message how its frames stand in blocks, if they do."""
    found = ((name, blocked(trace.messages[name])) for name in shows.messages if name in trace.messages)
    return {name: blocks for name, blocks in found if blocks is not None}


def _hint(trace: Trace, shows: Shows, name: str, blocks: Mapping[str, Blocked]) -> str:
    """What may be the reason, and what to write if it is."""
    message, own, source = shows.messages[name], blocks.get(name), source_of(shows, name)
    every = max((one.every_ns for key, one in blocks.items() if source_of(shows, key) == source), default=0)
    pairs = own is not None and own.size == 2 and abs(own.every_ns - message.period) <= message.period // 4
    twice = _twice(trace, name, message.period) if pairs or not every else 0
    if twice:
        many = "1 frame repeats" if twice == 1 else f"{twice} frames repeat"
        return (
            f" {many} the one before at nearly the same instant: export the log so that each is in it once."
        )
    if every:
        return (
            f" Its recorder stamps frames in blocks {every / 1e6:.1f} ms apart: if that is its way, add so much to "
            "'most' of 'stamp_delay' and to each 'longest_gap'."
        )
    return "" if message.on_change else " If it is sent at each change too, write 'on_change: true' for it."


def unchanged(trace: Trace, name: str, alive: str | None) -> NDArray[np.bool_]:
    """Which frames of a message no change can have sent: they and the one before show, but for its counter, no news.

    The frame that a change sends may come just after a periodic one that shows the change already.
    """
    same = _repeated(trace, name, alive)
    return same & np.concatenate(([True], same[:-1]))


def _repeated(trace: Trace, name: str, but: str | None = None) -> NDArray[np.bool_]:
    """Which frames of a message show the same as the one before, `but` for that signal; the first counts as such."""
    same = np.ones(len(trace.messages[name]), dtype=np.bool_)
    for one in trace.signals.values():
        if one.message == name and one.signal != but and len(one.values) == len(same):
            same[1:] &= one.values[1:] == one.values[:-1]
    return same


def _twice(trace: Trace, name: str, period_ns: int) -> int:
    """How many frames repeat the one before at nearly the same instant; 0 if that may be chance."""
    apart = np.diff(trace.messages[name])
    count = int(np.count_nonzero(_repeated(trace, name)[1:] & (apart * _AT_ONCE < period_ns)))
    return count if count * _SOME >= len(apart) else 0


def _doubted(trace: Trace, message: str) -> Iterator[Interval]:
    """Where the order of the frames or their counter is in doubt already."""
    for doubt in trace.quality:
        if doubt.blinds and doubt.kind in _OTHERWISE and doubt.message in {None, message}:
            yield doubt.span


def _between(times: Ints, span: Interval) -> slice:
    """The steps between neighbouring frames that lie in the span or reach into it."""
    stop = len(times) if span.hi is None else int(np.searchsorted(times, span.hi))
    return slice(max(0, int(np.searchsorted(times, span.lo, side="right")) - 1), stop)


def _steps(trace: Trace, name: str, message: Message, times: Ints) -> Ints | None:
    """Periods between neighbouring frames by the message's counter; None if it has none."""
    alive = trace.signals.get(f"{name}.{message.alive}")
    if alive is None or len(alive.values) != len(times) or np.isnan(alive.values).any():
        return None
    steps = np.mod(np.diff(alive.values), message.alive_modulo).astype(np.int64)
    turns = np.rint((np.diff(times) - steps * message.period) / (message.alive_modulo * message.period))
    counted: Ints = steps + turns.astype(np.int64) * message.alive_modulo
    return counted


def _lateness(times: Ints, slip: Ints, period_ns: int, counted: bool) -> NDArray[np.float64]:
    """How much later each frame is stamped than others near it prove it to have been sent; ns.

    Without a counter only later frames prove it, as frames may have been lost before.
    """
    near = _NEAR_NS // period_ns
    behind = np.concatenate(([0], np.cumsum(slip))).astype(np.float64)
    drift = _DRIFT * (times - times[0])
    least = _least_after(behind + drift, near) - drift
    if counted:
        least = np.minimum(least, _least_after((behind - drift)[::-1], near)[::-1] + drift)
    late: NDArray[np.float64] = behind - least
    return late


def _least_after(values: NDArray[np.float64], near: int) -> NDArray[np.float64]:
    """For each value the least of it and of the `near` values after it."""
    size = near + 1
    least: NDArray[np.float64] = minimum_filter1d(values, size, mode="nearest", origin=-(size // 2))
    return least


def _told(name: str, times: Ints, hint: str, excess: NDArray[np.float64]) -> Iterator[Quality]:
    late = np.flatnonzero(excess > 0)
    for run in np.split(late, np.flatnonzero(np.diff(late) > 1) + 1):
        if not len(run):
            continue
        lo = int(times[max(run[0] - 1, 0)])
        # the frame that came too soon after the last of them is in doubt too: it may be the one that is out of place
        hi = int(times[run[-1] + 2]) if run[-1] + 2 < len(times) else None
        sentence = (
            f"{len(run)} frames of {name} are stamped later than its period and the stated delay of stamps allow,"
            f" by up to {excess[run].max() / 1e6:.1f} ms: when their content was true is not certain.{hint}"
        )
        place = f"{times[run[0]] / 1e9:.3f} s after the first frame"
        yield Quality(QualityKind.TIME_RELATIVE, name, None, Interval(lo, hi), place, True, sentence)


def silences(trace: Trace, shows: Shows) -> list[Interval]:
    """Stretches without a frame of any message of a recorder, longer than the shortest gap that one of them may have.

    The recorder may have paused or its clock may have been set: the time that passed is not certain.
    """
    found = [silence for name in sources_of(shows) for silence in _silences_of(name, trace, shows)]
    return sorted(found, key=lambda one: one.lo)


def _silences_of(source: str, trace: Trace, shows: Shows) -> Iterator[Interval]:
    """Those of one recorder; one that writes changes only is never silent."""
    if sources_of(shows)[source].changes_only:
        return
    known = [*shows.messages, *shows.sources]
    mine = [name for name in known if source_of(shows, name) == source]
    longest = min(message_of(shows, name).longest_gap for name in mine)
    recorders = [name for name, one in sources_of(shows).items() if not one.sampled]
    if recorders == [
        source
    ]:  # what the bench file does not name comes in CAN frames, of one recorder if there is one
        mine += [name for name in trace.messages if name not in known]
    first = [np.zeros(1, dtype=np.int64)] if source == reference_of(shows) else []
    stamps = np.sort(
        np.concatenate(
            [
                np.zeros(0, np.int64),
                *first,
                *(trace.messages[name] for name in mine if name in trace.messages),
            ]
        ),
        kind="stable",  # each message is in order already: merged, not sorted
    )
    for place in np.flatnonzero(np.diff(stamps) > longest):
        yield Interval(int(stamps[place]), int(stamps[place + 1]))
