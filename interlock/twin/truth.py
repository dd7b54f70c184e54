"""What truly happened, in continuous time: for each demand the instants that a judge must find."""

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass

import numpy as np

from interlock.twin.acts import DEMANDS, Act, Deed, Scenario
from interlock.twin.bench import TwinBench
from interlock.twin.kernel import Floats, Track
from interlock.twin.nets import Net
from interlock.twin.plant import History

__all__ = ["DemandTruth", "Truth", "observe", "onsets"]


@dataclass(frozen=True, slots=True)
class DemandTruth:
    """One demand; every latency in seconds from the onset, None: not within the observation.

    The observation runs from the onset to the next start, the next demand or the end of the log. `..._s`
    without `first` is the instant from which the effect held until the observation's end.
    """

    what: str
    onset_s: float
    until_s: float
    drive_torque_before: bool
    load_torque_before: bool
    drive_off_s: float | None
    load_off_s: float | None
    drive_first_off_s: float | None
    load_first_off_s: float | None
    drive_permit_first_off_s: float | None
    load_permit_first_off_s: float | None
    speed_reference_zero_s: float | None
    torque_reference_zero_s: float | None
    standstill_s: float | None
    contactor_open_s: float | None
    bus_low_s: float | None
    drive_returns_s: tuple[tuple[float, float], ...]  # spans with torque after it was first off
    load_returns_s: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Truth:
    """The record of a run. Times in seconds from `epoch_s` (Unix time of power-up)."""

    epoch_s: int
    first_frame_s: float
    last_frame_s: float
    demands: tuple[DemandTruth, ...]
    resets_released_s: tuple[float, ...]
    starts_s: tuple[float, ...]
    defects: tuple[str, ...]

    def to_json(self) -> str:
        """One JSON document, keys in order of declaration."""
        return json.dumps(asdict(self), indent=1, allow_nan=False) + "\n"


def onsets(scenario: Scenario) -> tuple[float, ...]:
    """When the first contact of each demand opens."""
    return tuple(deed.at_s for deed in scenario.deeds if deed.act in DEMANDS)


def observe(
    bench: TwinBench, scenario: Scenario, nets: Mapping[Net, Track], history: History
) -> tuple[DemandTruth, ...]:
    """The truth of every demand of the scenario."""
    ends = [d.at_s for d in scenario.deeds if d.act in DEMANDS or d.act is Act.START] + [scenario.end_s]
    seen = _Observer(bench, nets, history)
    return tuple(
        seen.demand(deed, min(end for end in ends if end > deed.at_s))
        for deed in scenario.deeds
        if deed.act in DEMANDS
    )


class _Observer:
    def __init__(self, bench: TwinBench, nets: Mapping[Net, Track], history: History) -> None:
        self.bench, self.nets, self.history = bench, nets, history

    def demand(self, deed: Deed, until: float) -> DemandTruth:
        onset = deed.at_s
        before = np.array([onset])
        supply_until = until if deed.act is Act.PRESS_EMERGENCY else onset
        return DemandTruth(
            DEMANDS[deed.act],
            onset,
            until,
            bool(self.history.current("drive", before)[0] > self.bench.threshold_a),
            bool(self.history.current("load", before)[0] > self.bench.threshold_a),
            self._crossing(self._torque("drive"), onset, until),
            self._crossing(self._torque("load"), onset, until),
            self._first(self._torque("drive"), onset, until),
            self._first(self._torque("load"), onset, until),
            self._first(self._on(Net.PERMIT_DRIVE), onset, until),
            self._first(self._on(Net.PERMIT_LOAD), onset, until),
            self._zero(Net.SPEED_REFERENCE, onset, until),
            self._zero(Net.TORQUE_REFERENCE, onset, until),
            self._crossing(self._turning, onset, until),
            self._zero(Net.MAIN, onset, self._supply_returns(onset, supply_until)),
            self._crossing(self._charged, onset, self._supply_returns(onset, supply_until)),
            self._returns(self._torque("drive"), onset, until),
            self._returns(self._torque("load"), onset, until),
        )

    def _supply_returns(self, onset: float, until: float) -> float:
        """End of the observation of supply and bus: when supply-on next works, if it does so before."""
        presses = self.nets[Net.MAIN]
        rises = [t for t, v in zip(presses.times, presses.values, strict=True) if v and onset < t <= until]
        return rises[0] if rises else until

    def _torque(self, unit: str) -> Callable[[Floats], Floats]:
        return lambda at_s: self.history.current(unit, at_s) - self.bench.threshold_a

    def _on(self, net: Net) -> Callable[[Floats], Floats]:
        return self.nets[net].sample

    def _turning(self, at_s: Floats) -> Floats:
        rad_s = np.abs(self.history.between(self.history.drive_rad_s, at_s))
        return rad_s * (30.0 / math.pi) - self.bench.standstill_rpm

    def _charged(self, at_s: Floats) -> Floats:
        return self.history.lag(self.history.bus_v, at_s) - self.bench.low_v

    def _grid(self, onset: float, until: float) -> Floats:
        inner = self.history.t_s[(self.history.t_s > onset) & (self.history.t_s < until)]
        return np.concatenate(([onset], inner, [np.nextafter(until, onset)]))

    def _crossing(self, over: Callable[[Floats], Floats], onset: float, until: float) -> float | None:
        """Seconds until `over` is at or below zero for good; None if it is not at the end."""
        if until <= onset:
            return None
        grid = self._grid(onset, until)
        high = np.flatnonzero(over(grid) > 0.0)
        if not len(high):
            return 0.0
        return None if high[-1] == len(grid) - 1 else _root(over, grid[high[-1]], grid[high[-1] + 1]) - onset

    def _first(self, over: Callable[[Floats], Floats], onset: float, until: float) -> float | None:
        """Seconds until `over` first is at or below zero."""
        grid = self._grid(onset, until)
        low = np.flatnonzero(over(grid) <= 0.0)
        if not len(low):
            return None
        return 0.0 if low[0] == 0 else _root(over, grid[low[0] - 1], grid[low[0]]) - onset

    def _returns(
        self, over: Callable[[Floats], Floats], onset: float, until: float
    ) -> tuple[tuple[float, float], ...]:
        """Spans in seconds from the onset, to the plant's step, in which `over` is above zero again."""
        grid = self._grid(onset, until)
        high = over(grid) > 0.0
        rises = np.flatnonzero(~high[:-1] & high[1:]) + 1
        falls = np.flatnonzero(high[:-1] & ~high[1:]) + 1
        ends = [grid[falls[falls > k][0]] if (falls > k).any() else until for k in rises]
        return tuple((float(grid[k] - onset), float(e - onset)) for k, e in zip(rises, ends, strict=True))

    def _zero(self, net: Net, onset: float, until: float) -> float | None:
        """Seconds until a stepwise net is zero for good."""
        if until <= onset:
            return None
        track = self.nets[net]
        at = float(np.nextafter(until, onset))
        last = int(np.searchsorted(track.times, at, side="right")) - 1
        return None if track.values[last] else max(track.times[last] - onset, 0.0)


def _root(over: Callable[[Floats], Floats], high: float, low: float) -> float:
    """Where `over` comes down to zero between `high` and `low`, by bisection to the last bit but a few."""
    for _ in range(60):
        middle = 0.5 * (high + low)
        if float(over(np.array([middle]))[0]) > 0.0:
            high = middle
        else:
            low = middle
    return float(low)
