"""The discharges of the DC bus on a log, fitted: from the contactor's opening until somebody may feed the bus again."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench.sources import message_of
from interlock.rating.discharge import SAFE_V
from interlock.rating.measured_fall import MeasuredFall, SeenFall
from interlock.replay import Judgement
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.replay.windows import until_supply
from interlock.timing.fall import Fall, fit_fall
from interlock.timing.inputs import NotIdentified
from interlock.timing.settle import Settled, settled
from interlock.timing.track import BLIND, NO, YES

__all__ = ["measured_fall"]

_FLOOR: Final = 0.5  # of the harmless voltage: below it the meter's error decides


@dataclass(frozen=True, slots=True, eq=False)
class _Record:
    """Stamps and volts of one discharge, and what was seen of it without any model."""

    times_ns: NDArray[np.int64]
    volts: NDArray[np.float64]
    seen: SeenFall


def measured_fall(judgement: Judgement) -> MeasuredFall | None:
    """The hull of the bands of all discharges on the log; None if it shows none at all.

    One that no exponential explains, or that keeps its voltage, makes the time constant unknown; one that the log shows
    in part only makes everything unknown: no good one makes up for it.
    """
    seen, records, doubts = judgement.observation, list[_Record](), list[str]()
    for stop in judgement.stops:
        if "bus_discharged" in stop.function.effects:
            found = _record(seen, stop)
            if isinstance(found, str):
                when = "since before the log" if stop.demand is None else f"at {stop.demand.lo / 1e9:.3f} s"
                doubts.append(f"{found}, after the demand of {stop.name} {when}")
            elif found is not None:
                records.append(found)
    source = f"log: {len(records)} discharge(s) after an opening of the contactor"
    if doubts:
        return MeasuredFall(None, (), source, "; ".join(doubts))
    if not records:
        return None
    fits = [_fit(seen, one) for one in records]
    unknown = "; ".join(one for one in fits if isinstance(one, str))
    falls = [one for one in fits if isinstance(one, Fall)]
    if any(one.seen.latest_s is None for one in records):
        unknown = "; ".join(filter(None, ("the bus was not seen to become harmless for good", unknown)))
    fitted = None
    if not unknown:
        shortest, longest = min(one.shortest_s for one in falls), max(one.longest_s for one in falls)
        lowest, highest = min(one.lowest_v for one in falls), max(one.highest_v for one in falls)
        fitted = (shortest, longest, lowest, highest)
    return MeasuredFall(fitted, tuple(one.seen for one in records), source, unknown)


def _fit(seen: Observation, record: _Record) -> Fall | str:
    when = f"the discharge at {record.times_ns[0] / 1e9:.3f} s"
    try:
        fall = fit_fall(record.times_ns, record.volts, floor_v=_FLOOR * SAFE_V, offset_v=_offset(seen))
    except NotIdentified as unknown:
        return f"{unknown} ({when})"
    return fall if fall.fits else f"no single exponential fits {when} (p = {fall.memory.p_value:.1g})"


def _offset(seen: Observation) -> float:
    """What the bench file says of the uncertainty of the voltage, taken as an error that stays: the worst it may be."""
    stated = seen.bench.required.effects.bus_discharged
    name = None if stated is None else seen.shows.values.get(f"{stated.of}.voltage")
    if name is None:
        return 0.0
    uncertain = message_of(seen.shows, name.message).uncertain.get(name.signal)
    return 0.0 if uncertain is None else float(uncertain.value)


def _record(seen: Observation, stop: Stop) -> _Record | str | None:
    """One discharge; None if none began here, a text if one did but is not shown whole."""
    effects = seen.bench.required.effects
    bus, contactor = effects.bus_discharged, effects.contactor_open
    if bus is None or contactor is None:
        return None
    name, main = seen.shows.values.get(f"{bus.of}.voltage"), seen.tracks.get(f"{contactor.of}.main")
    charged = seen.beyond(f"{bus.of}.voltage", ">", min(SAFE_V, bus.at_most.number), magnitude=True)
    samples = None if name is None else seen.trace.signals.get(str(name))
    if main is None or charged is None or samples is None:
        return None
    window = until_supply(seen, stop).window
    opened = settled(main, window)
    if opened.before == NO:
        return None
    if opened.at.hi is None:
        return "the contactor was not seen to open for good"
    last = np.inf if window.end is None else window.end.lo + charged.clock.least_ns - charged.clock.width_ns
    first = opened.at.hi + charged.clock.most_ns + charged.clock.width_ns
    states = charged.states[slice(*np.searchsorted(charged.stamps_ns, (first, last)))]
    if not (states == YES).any():
        return None  # the bus was harmless already
    if (states == BLIND).any():
        return "evidence of the voltage is missing"
    inside = slice(*np.searchsorted(samples.times_ns, (first, last)))
    volts = np.abs(samples.values[inside]).astype(np.float64)
    found = _seen(opened.at.lo, opened.at.hi, settled(charged, window), float(volts[0]) - _offset(seen))
    return _Record(samples.times_ns[inside].astype(np.int64), volts, found)


def _seen(opened_lo: int, opened_hi: int, harmless: Settled, from_v: float) -> SeenFall:
    """From the opening until harmless, as the samples bound it; the voltage had fallen to `from_v` by the first."""
    end = harmless.at.hi
    latest = None if end is None else (end - opened_lo) / 1e9
    return SeenFall(max(0.0, from_v), max(0, harmless.at.lo - opened_hi) / 1e9, latest)
