"""Logs whose coast-downs are made here from friction that is known, by scipy's integrator of the equation of motion."""

import functools
from dataclasses import dataclass, replace
from math import tau
from typing import Final

import numpy as np
from numpy.typing import NDArray
from replay_tape import heard, sound
from scipy.integrate import solve_ivp

from interlock.interval import Interval
from interlock.replay import Judgement
from interlock.replay.coasting import CoastDown, coast_downs

RPM: Final = tau / 60
SPEED: Final = "DRV_Actual.DrvSpeed"
LONG_S: Final = 4.9  # from a demand to the next start at least


@dataclass(frozen=True)
class Friction:
    """J dω/dt = -(coulomb + viscous ω + windage ω²): kg m2, N m, N m s/rad, N m s2/rad2."""

    inertia: float = 0.011
    coulomb: float = 0.31
    viscous: float = 0.0010
    windage: float = 0.0

    def speed(self, start: float, seconds: NDArray[np.float64]) -> NDArray[np.float64]:
        """1/min at each instant, from `start` 1/min at 0, at rest once it has stopped."""
        found = solve_ivp(self._slowing, (0, LONG_S), [start * RPM], dense_output=True, rtol=1e-9, atol=1e-9)
        return np.asarray(np.maximum(0.0, found.sol(seconds)[0])) / RPM

    def seconds(self, high: float, low: float) -> float:
        """From one speed to a lower one, 1/min."""

        def reached(_: float, w: NDArray[np.float64]) -> float:
            return float(w[0]) - low * RPM

        reached.terminal = True  # type: ignore[attr-defined]
        found = solve_ivp(self._slowing, (0, 1e4), [high * RPM], rtol=1e-11, atol=1e-11, events=reached)
        return float(found.t_events[0][0])

    def _slowing(self, _: float, w: NDArray[np.float64]) -> list[float]:
        return [-(self.coulomb + self.viscous * w[0] + self.windage * w[0] ** 2) / self.inertia]


@functools.cache
def judged_sound() -> Judgement:
    """Six stops, all in time."""
    return heard(sound())


def clean_speeds(friction: Friction, start: float) -> NDArray[np.float64]:
    """What DrvSpeed of the sound log shows if each stop is a coast-down from `start` 1/min by this friction."""
    judgement = judged_sound()
    times = judgement.observation.trace.signals[SPEED].times_ns
    speeds = np.full(len(times), start)
    for stop in (one for one in judgement.stops if one.demand is not None):
        since = (times - stop.onset.lo) / 1e9 - 0.02  # torque goes within 40 ms of the demand
        speeds[(since >= 0) & (since < LONG_S)] = friction.speed(
            start, since[(since >= 0) & (since < LONG_S)]
        )
    return speeds


def coasted(speeds: NDArray[np.float64], **changes: object) -> tuple[CoastDown, ...]:
    """What is said of the sound log with these speeds; `changes` of the speed's message, of nothing else."""
    judgement = judged_sound()
    seen = judgement.observation
    signals = {**seen.trace.signals, SPEED: replace(seen.trace.signals[SPEED], values=speeds)}
    message = seen.shows.messages["DRV_Actual"].model_copy(update={"uncertain": {}, **changes})
    shows = seen.shows.model_copy(update={"messages": {**seen.shows.messages, "DRV_Actual": message}})
    shown = replace(seen, shows=shows, trace=replace(seen.trace, signals=signals))
    open_ended = Interval(0, None)
    stood = [replace(one, latency=open_ended) for one in judgement.findings if one.effect == "standstill"]
    return coast_downs(replace(judgement, observation=shown, findings=tuple(stood)))
