"""Integrates the plant under the nets' story and keeps its history so that any instant can be read."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.twin.bench import TwinBench
from interlock.twin.defects import Defect, Flaws
from interlock.twin.electric import Bus, CurrentLoop, SpeedLoop
from interlock.twin.kernel import Floats, Track
from interlock.twin.nets import DriveState, Net
from interlock.twin.shaft import make_shaft

__all__ = ["History", "Lag", "integrate"]

_SHARE: Final = {Defect.COAST_LONG: 0.3, Defect.BUS_SLOW: 20.0, Defect.BUS_KEPT: 1e6}


@dataclass(frozen=True, slots=True)
class Lag:
    """A value that in step k falls exponentially from `start[k]` towards `target[k]` with `tau_s[k]`."""

    start: Floats
    target: Floats
    tau_s: Floats

    def at(self, step: np.ndarray, into_s: Floats) -> Floats:
        """Exact value `into_s` seconds after the start of each step."""
        left = np.exp(-into_s / self.tau_s[step])
        value: Floats = self.target[step] + (self.start[step] - self.target[step]) * left
        return value


@dataclass(frozen=True, slots=True)
class History:
    """The plant from power-up; step k runs from `t_s[k]` to `t_s[k + 1]`. SI units, currents in A."""

    t_s: Floats
    drive_rad_s: Floats
    load_rad_s: Floats
    shaft_nm: Floats
    drawn_a: Floats
    bus_v: Lag
    drive_q: Lag
    drive_d: Lag
    load_q: Lag
    load_d: Lag

    def lag(self, lag: Lag, at_s: Floats) -> Floats:
        """A lagging value at any instants."""
        step = np.clip(np.searchsorted(self.t_s, at_s, side="right") - 1, 0, len(lag.start) - 1)
        return lag.at(step, np.maximum(at_s - self.t_s[step], 0.0))

    def current(self, unit: str, at_s: Floats) -> Floats:
        """Magnitude of the phase current of `drive` or `load`, in A."""
        q, d = (self.drive_q, self.drive_d) if unit == "drive" else (self.load_q, self.load_d)
        return np.hypot(self.lag(q, at_s), self.lag(d, at_s))

    def between(self, values: Floats, at_s: Floats) -> Floats:
        """A continuous value by linear interpolation."""
        return np.interp(at_s, self.t_s, values)


def _history(t_s: Floats, rows: list[tuple[float, ...]]) -> History:
    """Rows as `_Plant.step` gives them, turned into columns."""
    columns = np.ascontiguousarray(np.array(rows).T)
    lags = (Lag(*columns[k : k + 3]) for k in range(4, len(columns), 3))
    return History(t_s, *columns[:4], *lags)


def integrate(bench: TwinBench, nets: Mapping[Net, Track], end_s: float, flaws: Flaws) -> History:
    """Steps of `bench.step_s`, with a further grid point at every event of a net."""
    share = {d: f if any(flaw.defect is d for flaw in flaws.all) else 1.0 for d, f in _SHARE.items()}
    grid = np.arange(0.0, end_s + bench.step_s, bench.step_s)
    events = [t for track in nets.values() for t in track.times if t < end_s]
    t_s = np.unique(np.concatenate((grid, events)))
    plant = _Plant(bench, share)
    inputs = [nets[net].sample(t_s).tolist() for net in _Plant.INPUTS]
    spans = np.append(np.diff(t_s), bench.step_s).tolist()
    rows = [plant.step(h, *now) for h, *now in zip(spans, *inputs, strict=True)]
    return _history(t_s, rows)


class _Plant:
    """All parts, stepped together."""

    INPUTS: Final = (
        Net.STATE_DRIVE,
        Net.STATE_LOAD,
        Net.PULSE_DRIVE,
        Net.PULSE_LOAD,
        Net.SPEED_REFERENCE,
        Net.TORQUE_REFERENCE,
        Net.MAIN,
    )

    def __init__(self, bench: TwinBench, share: Mapping[Defect, float]) -> None:
        self.bench = bench
        self.shaft = make_shaft(bench, share[Defect.COAST_LONG])
        self.bus = Bus(bench.supply, share[Defect.BUS_SLOW] * share[Defect.BUS_KEPT])
        self.drive, self.load = CurrentLoop(bench.drive), CurrentLoop(bench.load)
        self.speed_loop = SpeedLoop(bench.control, bench.drive)
        self.minimum_v = bench.supply.minimum_v

    def step(
        self,
        h: float,
        drive_state: float,
        load_state: float,
        drive_pulse: float,
        load_pulse: float,
        rpm: float,
        torque: float,
        main: float,
    ) -> tuple[float, ...]:
        """Advances by `h`; the row of what held at its start and of how each lag went on."""
        shaft, bus, drive, load = self.shaft, self.bus, self.drive, self.load
        live = bus.volts >= self.minimum_v
        drive_on = live and (drive_state == DriveState.ENABLED or drive_pulse != 0.0)
        load_on = live and (load_state == DriveState.ENABLED or load_pulse != 0.0)
        before = (shaft.drive_rad_s, shaft.load_rad_s, shaft.torque_nm)
        starts = (bus.volts, drive.q_a, drive.d_a, load.q_a, load.d_a)
        wanted = self.speed_loop.step(
            h, rpm * math.pi / 30.0, shaft.drive_rad_s, drive_on and not drive_pulse
        )
        drive_nm = drive.step(h, drive_pulse or wanted, drive_on)
        load_nm = -load.step(h, load_pulse or torque / self.bench.load.nm_per_a, load_on)
        shaft.step(h, drive_nm, load_nm)
        watts = drive_nm * shaft.drive_rad_s + load_nm * shaft.load_rad_s
        bus.step(h, bool(main), watts)
        return (
            *before,
            bus.drawn_a,
            *(starts[0], bus.target_v, bus.tau_s),
            *(starts[1], drive.q_target_a, drive.tau_s),
            *(starts[2], drive.d_target_a, drive.tau_s),
            *(starts[3], load.q_target_a, load.tau_s),
            *(starts[4], load.d_target_a, load.tau_s),
        )
