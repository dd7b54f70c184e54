"""The signals around a demand, thinned to what a picture can show."""

from typing import Any, Final

import numpy as np

from interlock.bench.observe import SignalName
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.trace.model import Samples

__all__ = ["pictures"]

_BEFORE_NS: Final = 100_000_000
_FAST_NS: Final = 500_000_000  # after the onset, for contacts, currents and references
_MOST: Final = 240  # samples in one picture
_STOPS: Final = 60  # later stops of a log get no pictures


def pictures(seen: Observation, stop: Stop) -> list[dict[str, Any]]:
    """Series of the demand's contacts, torque and references close by, of speed and voltage until their limits."""
    if stop.demand is None or stop.index >= _STOPS:
        return []
    start = stop.onset.lo - _BEFORE_NS
    fast = [_series(seen, name, start, stop.onset.lo + _FAST_NS) for name in _fast_signals(seen, stop)]
    slow = [_series(seen, name, start, stop.onset.lo + _reach(seen)) for name in _slow_signals(seen, stop)]
    return [one for one in (*fast, *slow) if one["times_ns"]]


def _fast_signals(seen: Observation, stop: Stop) -> list[SignalName]:
    ports = [port for port in seen.shows.states if port.split(".")[0] == stop.period.device]
    ports += [
        f"{unit}.{what}"
        for unit in seen.bench.required.effects.torque_off.of
        for what in ("torque", "enabled")
    ]
    effects = seen.bench.required.effects
    if "references_zero" in stop.function.effects and effects.references_zero is not None:
        ports.append(f"{effects.references_zero.of}.set")
    if "contactor_open" in stop.function.effects and effects.contactor_open is not None:
        ports.append(f"{effects.contactor_open.of}.main")
    shown = [seen.shows.states[port] for port in ports if port in seen.shows.states]
    return list(dict.fromkeys(one.name for condition in shown for one in condition.comparisons))


def _slow_signals(seen: Observation, stop: Stop) -> list[SignalName]:
    effects, wanted = seen.bench.required.effects, stop.function.effects
    ports = [f"{effects.standstill.of}.speed"] if "standstill" in wanted and effects.standstill else []
    ports += (
        [f"{effects.bus_discharged.of}.voltage"]
        if "bus_discharged" in wanted and effects.bus_discharged
        else []
    )
    return [seen.shows.values[port] for port in ports if port in seen.shows.values]


def _reach(seen: Observation) -> int:
    effects = seen.bench.required.effects
    stated = [effects.standstill, effects.bus_discharged, effects.torque_off]
    return max(one.within for one in stated if one is not None) * 11 // 10


def _series(seen: Observation, name: SignalName, lo: int, hi: int) -> dict[str, Any]:
    samples: Samples | None = seen.trace.signals.get(str(name))
    if samples is None:
        return {"label": str(name), "unit": "", "times_ns": [], "values": []}
    first, last = np.searchsorted(samples.times_ns, (lo, hi))
    step = max(1, -(-int(last - first) // _MOST))
    times, values = samples.times_ns[first:last:step], samples.values[first:last:step]
    finite = np.isfinite(values)
    return {
        "label": str(name),
        "unit": samples.unit,
        "times_ns": times[finite].tolist(),
        "values": values[finite].tolist(),
    }
