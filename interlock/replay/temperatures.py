"""The highest temperatures that a log shows, in the whole run and during each stop, held against what is permitted.

They change no verdict. A sample that stands apart from its neighbours does not count as the highest, and is told.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from interlock.bench import kinds_of
from interlock.bench.rating_check import is_temperature
from interlock.bench.sources import message_of
from interlock.interval import Interval
from interlock.replay.judge import Judgement
from interlock.replay.observation import Observation
from interlock.timing.blocks import isolated
from interlock.timing.track import BLIND, Clock
from interlock.trace.as_json import interval_json

__all__ = ["Peak", "Temperature", "temperatures"]


@dataclass(frozen=True, slots=True)
class Peak:
    """The highest temperature in a span of the log, degC."""

    function: str  # of the stop; empty: the whole run
    demand: Interval | None  # of the stop; None: the whole run, or a stop that is older
    highest: float | None  # None: no sample that is evidence
    at: Interval | None  # holds the instant of the first such sample, ns since the first frame
    at_least: bool  # evidence is missing: it may have been hotter
    apart: int  # hotter samples that stand apart from their neighbours
    hottest_apart: float | None

    def as_json(self) -> dict[str, Any]:
        """As plain data (see replay.schema.json)."""
        return {
            "function": self.function or None,
            "demand_ns": interval_json(self.demand),
            "highest_degc": self.highest,
            "at_ns": interval_json(self.at),
            "at_least": self.at_least,
            "apart": self.apart,
            "hottest_apart_degc": self.hottest_apart,
        }


@dataclass(frozen=True, slots=True)
class Temperature:
    """One temperature of one device."""

    port: str
    name: str  # what people call it
    uncertain: float  # degC, plus or minus; as the bench file states it
    limit: float | None  # degC, the highest permitted; None: none is stated
    run: Peak
    stops: tuple[Peak, ...]

    @property
    def reached(self) -> bool | None:
        """Whether the permitted temperature was reached in the run; None: not certain, or none is stated."""
        if self.limit is None or self.run.highest is None:
            return None
        if self.run.highest - self.uncertain >= self.limit:
            return True
        hottest = max(self.run.highest, self.run.hottest_apart or self.run.highest)
        return None if self.run.at_least or hottest + self.uncertain >= self.limit else False

    @property
    def sentence(self) -> str:
        """What the log shows of it, for an engineer."""
        run = self.run
        if run.highest is None or run.at is None:
            return f"{self.name}: the log shows no temperature that is evidence{self._asked}."
        least = "at least " if run.at_least else ""
        doubt = f" (plus or minus {self.uncertain:g})" if self.uncertain else ""
        missing = "; evidence is missing, so it may have been hotter" if run.at_least else ""
        text = f"{self.name}: {least}{run.highest:g} °C{doubt} at {run.at.lo / 1e9:.3f} s{missing}"
        if run.apart and run.hottest_apart is not None:
            what = "a hotter sample stands" if run.apart == 1 else f"{run.apart} hotter samples stand"
            whose = "its" if run.apart == 1 else "their"
            text += f"; {what} apart from {whose} neighbours ({run.hottest_apart:g} °C), which does not count"
        return f"{text}{self._asked}."

    @property
    def _asked(self) -> str:
        if self.limit is None:
            return ""
        said = {True: "REACHED", False: "not reached", None: "whether they were reached is not certain"}
        return f"; {self.limit:g} °C are permitted: {said[self.reached]}"

    def as_json(self) -> dict[str, Any]:
        """As plain data (see replay.schema.json)."""
        return {
            "port": self.port,
            "name": self.name,
            "uncertain_degc": self.uncertain,
            "limit_degc": self.limit,
            "reached": self.reached,
            "run": self.run.as_json(),
            "stops": [one.as_json() for one in self.stops],
            "sentence": self.sentence,
        }


def temperatures(judgement: Judgement) -> tuple[Temperature, ...]:
    """One for each value in degrees Celsius that the bench file shows, in its order."""
    seen = judgement.observation
    ports = [port for port in seen.shows.values if _is_shown(seen, port)]
    return tuple(_temperature(judgement, port) for port in ports)


def _is_shown(seen: Observation, port: str) -> bool:
    device, _, value = port.partition(".")
    return is_temperature(kinds_of(seen.bench)[seen.bench.devices[device].kind].values.get(value, ""))


def _temperature(judgement: Judgement, port: str) -> Temperature:
    seen = judgement.observation
    device, _, value = port.partition(".")
    signal, limit = seen.shows.values[port], seen.bench.bench.ratings.temperatures.get(port)
    uncertain = message_of(seen.shows, signal.message).uncertain.get(signal.signal)
    name = seen.device_name(device)
    record = _record(seen, port)
    return Temperature(
        port,
        name if value == "temperature" else f"{value.replace('_', ' ')} of the {name}",
        0.0 if uncertain is None else float(uncertain.value),
        None if limit is None else limit.number,
        _peak(record, (0, seen.trace.end_ns), "", None),
        tuple(_stops(judgement, record)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Record:
    """Samples that are evidence, and the stamps at which evidence is missing."""

    clock: Clock
    times_ns: NDArray[np.int64]
    values: NDArray[np.float64]
    apart: NDArray[np.bool_]
    blind_ns: NDArray[np.int64]


def _record(seen: Observation, port: str) -> _Record:
    signal = seen.shows.values[port]
    samples, track = seen.trace.signals.get(str(signal)), seen.beyond(port, ">", 0.0, magnitude=False)
    clock = seen.clock_of(signal.message)
    if samples is None or track is None:
        none = np.zeros(0)
        return _Record(clock, none.astype(np.int64), none, none.astype(np.bool_), np.zeros(1, np.int64))
    blind = track.stamps_ns[track.states == BLIND]
    sure = np.isfinite(samples.values) & ~np.isin(samples.times_ns, blind)
    values = samples.values[sure]
    odd = samples.times_ns[~np.isfinite(samples.values)]
    return _Record(clock, samples.times_ns[sure], values, isolated(values), np.union1d(blind, odd))


def _stops(judgement: Judgement, record: _Record) -> Iterator[Peak]:
    for stop in judgement.stops:
        if stop.demand is not None:
            end = stop.window.end
            last = None if end is None else end.hi
            until = judgement.observation.trace.end_ns if last is None else last
            yield _peak(record, (stop.demand.lo, until), stop.name, stop.demand)


def _peak(record: _Record, span: tuple[int, int], function: str, demand: Interval | None) -> Peak:
    """Of the samples stamped in a span of the log."""
    inside = slice(
        int(np.searchsorted(record.times_ns, span[0])),
        int(np.searchsorted(record.times_ns, span[1], side="right")),
    )
    times, values, apart = record.times_ns[inside], record.values[inside], record.apart[inside]
    blind = bool(((record.blind_ns >= span[0]) & (record.blind_ns <= span[1])).any())
    if not (~apart).any():
        return Peak(function, demand, None, None, True, 0, None)
    kept = np.where(apart, -np.inf, values)
    at = int(np.argmax(kept))
    hotter = values[apart & (values > kept[at])]
    most = float(hotter.max()) if len(hotter) else None
    return Peak(
        function, demand, float(kept[at]), record.clock.sampled(int(times[at])), blind, len(hotter), most
    )
