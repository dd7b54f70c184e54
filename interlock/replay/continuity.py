"""Did a quantity leap that the bench cannot make leap, as where a piece was cut out of the recording?

Neither counters nor the beat of the messages are needed for it: a shaft does not change its speed at once, nor does a
bus that nothing feeds or loads lose its charge at once.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench import Bench, kinds_of
from interlock.bench.shows_models import Shows
from interlock.bench.sources import message_of, source_of, sources_of
from interlock.interval import Interval
from interlock.replay.missing_time import all_in_doubt
from interlock.replay.observation import Observation
from interlock.timing.continuity import Leap, leaps
from interlock.timing.track import NO, Track
from interlock.trace.model import Quality, Samples, Trace

__all__ = ["leaps_of"]

Bools = NDArray[np.bool_]

# Common practice, no source: what a drive, a brake or a load may do in less time than this is not asked.
_WITHIN_NS: Final = 30_000_000
_ASIDE_NS: Final = 50_000_000  # so long before and after it nothing drives the shaft, nothing feeds the bus

_SHARE: Final = 0.2  # of its range: the load brakes by a little where the drive loses its torque first
_SHARE_ALONE: Final = 0.05  # where nothing drives it: something may rub, catch or stick
_FEWEST: Final = 50  # samples; fewer tell nothing of what is usual
_FAR: Final = 1000  # times as fast: no figure is of use


def leaps_of(bench: Bench, shows: Shows, trace: Trace) -> Iterator[Quality]:
    """A blinding doubt about each message of a recorder where a quantity leaps that was in no doubt yet."""
    seen = Observation(bench, shows, replace(trace, quality=()))
    for port, name in shows.values.items():
        device, _, value = port.partition(".")
        unit = kinds_of(bench)[bench.devices[device].kind].values.get(value)
        samples = trace.signals.get(str(name))
        changes_only = sources_of(shows)[source_of(shows, name.message)].changes_only
        if unit not in {"1/min", "V"} or samples is None or changes_only:
            continue
        there = np.isfinite(samples.values)
        samples = replace(samples, unit=unit, times_ns=samples.times_ns[there], values=samples.values[there])
        if len(samples.values) < _FEWEST:
            continue
        sound = ~_near(samples, _doubted(trace.quality, samples))
        found = {one.at: one for one in _leaps(seen, samples, sound)}
        for at in sorted(found):
            what = f"The {value} of the {seen.device_name(device)}"
            yield from _told(seen, what, samples, found[at])


def _leaps(seen: Observation, samples: Samples, sound: Bools) -> Iterator[Leap]:
    effects = seen.bench.required.effects
    alone = sound & _idle(seen, samples, [f"{one}.torque" for one in effects.torque_off.of])
    if samples.unit == "1/min":
        kinds = [(sound, False, _SHARE), (alone, False, _SHARE_ALONE)]
    elif effects.contactor_open is not None:
        kinds = [(alone & _idle(seen, samples, [f"{effects.contactor_open.of}.main"]), True, _SHARE_ALONE)]
    else:
        return
    period = message_of(seen.shows, samples.message).period
    for alike, down, share in kinds:
        yield from leaps(
            samples.times_ns, samples.values, period, alike, down=down, within_ns=_WITHIN_NS, share=share
        )


def _doubted(doubts: Iterable[Quality], samples: Samples) -> list[Interval]:
    """Where the signal is no evidence anyway."""
    mine = ({None, samples.message}, {None, samples.signal})
    return [one.span for one in doubts if one.blinds and one.message in mine[0] and one.signal in mine[1]]


def _idle(seen: Observation, samples: Samples, ports: list[str]) -> Bools:
    """The steps between samples beside which none of the conditions may hold; none if one is not shown."""
    if not all(port in seen.shows.states for port in ports):
        return np.zeros(len(samples.values) - 1, np.bool_)
    tracks = (seen.track_of(seen.shows.states[port]) for port in ports)
    return ~_near(samples, [span for track in tracks for span in _not_excluded(track)])


def _not_excluded(track: Track) -> Iterator[Interval]:
    """The stretches in which the condition may hold, and a little beside them."""
    may = np.concatenate(([False], track.states != NO, [False]))
    first, stop = np.flatnonzero(may[1:] & ~may[:-1]), np.flatnonzero(~may[1:] & may[:-1])
    for lo, hi in zip(track.stamps_ns[first].tolist(), track.stamps_ns[stop - 1].tolist(), strict=True):
        yield Interval(lo - _ASIDE_NS, hi + _ASIDE_NS)


def _near(samples: Samples, spans: list[Interval]) -> Bools:
    """The steps between samples that touch one of the spans."""
    times = samples.times_ns
    first = np.searchsorted(times[1:], [one.lo for one in spans])
    ends = [int(times[-1]) if one.hi is None else one.hi for one in spans]
    stop = np.searchsorted(times[:-1], ends, side="right")
    inside = np.zeros(len(times), np.int64)
    np.add.at(inside, first, 1)
    np.add.at(inside, np.maximum(stop, first), -1)
    touched: Bools = np.cumsum(inside)[:-1] > 0
    return touched


def _told(seen: Observation, what: str, samples: Samples, leap: Leap) -> Iterator[Quality]:
    lo, hi = int(samples.times_ns[leap.at]), int(samples.times_ns[leap.at + 1])
    faster = f"{leap.times:.0f} times as fast as" if leap.times < _FAR else "faster than"
    sentence = (
        f"{what} leaps by {abs(leap.by):.3g} {samples.unit} within {(hi - lo) / 1e6:.1f} ms, {faster} anywhere else in"
        " the log: the recording was cut or its clock was set, or the sensor failed, and what happened meanwhile nobody"
        " can tell."
    )
    span = Interval(lo, hi + seen.bench.required.restart.no_sooner_than + 1)
    return all_in_doubt(seen.trace, seen.shows, source_of(seen.shows, samples.message), span, sentence)
