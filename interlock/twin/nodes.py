"""The bench's CAN nodes: sample nets and plant at each message's period, pack, stamp, put on the bus."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from interlock.twin.bench import Logger, Message, Shown, TwinBench
from interlock.twin.frames import Frames, merge
from interlock.twin.kernel import Floats, Track
from interlock.twin.nets import DriveState, Net, Reading
from interlock.twin.pack import layouts, pack
from interlock.twin.plant import History

__all__ = ["Columns", "Sensors", "put_on_bus"]

Columns = dict[str, Floats]
"""Values of each signal of one message, in order of sampling."""

_RPM = 30.0 / math.pi
_AIR_DEGC = 22.0


@dataclass(frozen=True, slots=True)
class Sensors:
    """Reads any net or reading at any instants; no noise yet."""

    bench: TwinBench
    nets: Mapping[Net, Track]
    history: History

    def read(self, source: Net | Reading, at_s: Floats) -> Floats:
        """True values of `source` at the instants `at_s`."""
        if isinstance(source, Net):
            return self.nets[source].sample(at_s)
        past = self.history
        match source:
            case Reading.SPEED:
                return past.between(past.drive_rad_s, at_s) * _RPM
            case Reading.SHAFT_TORQUE:
                return past.between(past.shaft_nm, at_s)
            case Reading.CURRENT_DRIVE:
                return past.current("drive", at_s)
            case Reading.CURRENT_LOAD:
                return past.current("load", at_s)
            case Reading.TORQUE_ESTIMATE:
                return past.lag(past.load_q, at_s) * self.bench.load.nm_per_a
            case Reading.BUS_VOLTAGE:
                return past.lag(past.bus_v, at_s)
            case Reading.BUS_CURRENT:
                charged = past.lag(past.bus_v, at_s) > 0.2 * self.bench.supply.volts
                return past.between(past.drawn_a, at_s) + self.bench.supply.standby_a * charged
            case Reading.HEAT_DRIVE | Reading.HEAT_LOAD:
                return self._heat(source is Reading.HEAT_DRIVE, at_s)
            case Reading.STATUS_DRIVE:
                return self._status(Net.STATE_DRIVE, at_s)
            case Reading.STATUS_LOAD:
                return self._status(Net.STATE_LOAD, at_s)
            case Reading.ALIVE:
                raise ValueError("a counter is no sensor")

    def _heat(self, drive: bool, at_s: Floats) -> Floats:
        """degC of a winding with one time constant, heated by the square of its current; air of 22 degC."""
        past, unit = self.history, self.bench.drive if drive else self.bench.load
        current = past.current("drive" if drive else "load", past.t_s)
        losses = unit.heat_k_per_a2 * current**2 * np.exp(past.t_s / unit.heat_s)
        summed = np.concatenate([[0.0], np.cumsum((losses[1:] + losses[:-1]) / 2 * np.diff(past.t_s))])
        return _AIR_DEGC + past.between(summed, at_s) * np.exp(-at_s / unit.heat_s) / unit.heat_s

    def _status(self, net: Net, at_s: Floats) -> Floats:
        states = self.nets[net].sample(at_s)
        down = self.history.lag(self.history.bus_v, at_s) < self.bench.supply.minimum_v
        states = np.where(down & (states <= DriveState.DISABLED), DriveState.NO_VOLTAGE, states)
        words = np.array([self.bench.status_words[state] for state in DriveState], float)
        shown: Floats = words[states.astype(np.int64)]
        return shown


def put_on_bus(
    sensors: Sensors,
    end_s: float,
    rng: np.random.Generator,
    spoil: Callable[[Message, Floats, Columns], Columns],
) -> Frames:
    """The whole log up to `end_s`; `spoil` may change a message's columns before they are packed."""
    bench, laid = sensors.bench, layouts(sensors.bench.dbc)
    parts = []
    for message in bench.messages:
        at_s = _instants(message, bench.logger, end_s, rng)
        columns = {shown.signal: _measure(sensors, message, shown, at_s, rng) for shown in message.shown}
        payload = pack(laid[message.name], spoil(message, at_s, columns))
        stamp_ns = _stamps(at_s, bench.logger, rng)
        kept = _kept(len(at_s), bench.logger.loss, rng)
        content_ns = np.rint(at_s * 1e9).astype(np.int64)
        parts.append((message.name, laid[message.name], stamp_ns[kept], content_ns[kept], payload[kept]))
    return merge(parts)


def _instants(message: Message, logger: Logger, end_s: float, rng: np.random.Generator) -> Floats:
    phase = float(rng.uniform(0.0, message.period_s))
    ticks = np.arange(phase, end_s, message.period_s)
    jitter = rng.uniform(-logger.jitter_s, logger.jitter_s, len(ticks))
    sampled: Floats = np.maximum(ticks + jitter, 0.0)
    return sampled


def _measure(
    sensors: Sensors, message: Message, shown: Shown, at_s: Floats, rng: np.random.Generator
) -> Floats:
    if shown.source is Reading.ALIVE:
        return (np.arange(len(at_s)) % message.alive_modulo).astype(np.float64)
    values = sensors.read(shown.source, at_s)
    noisy: Floats = values + rng.normal(0.0, shown.noise, len(at_s)) if shown.noise else values
    return 1.0 - noisy if shown.inverted else noisy


def _stamps(at_s: Floats, logger: Logger, rng: np.random.Generator) -> NDArray[np.int64]:
    """Whole microseconds, 0 to the stated bound after the content, never decreasing."""
    usual = np.abs(rng.normal(0.0, logger.delay_s, len(at_s)))
    phases = rng.uniform(0.0, 2 * math.pi, 3)
    slow = sum(np.sin(at_s * rate + phase) for rate, phase in zip((0.7, 3.1, 11.0), phases, strict=True))
    delay = usual + logger.wander_s * (0.5 + slow / 6.0)
    late = np.minimum(delay, logger.delay_max_s - 1.1e-6)
    stamp_us = np.ceil(np.maximum.accumulate(at_s + late) * 1e6)
    return stamp_us.astype(np.int64) * 1000


def _kept(n: int, loss: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    lost = rng.random(n) < loss
    lost[1:] &= ~lost[:-1]
    return ~lost
