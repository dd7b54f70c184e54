"""How long each function's stop takes at worst, from top speed to standstill, by all of its demands in a log."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.bench.sources import message_of
from interlock.interval import Interval
from interlock.replay.finding import Finding
from interlock.replay.judge import Judgement
from interlock.replay.observation import Observation
from interlock.timing.statistics import upper_tolerance_bound
from interlock.verdict import Verdict

__all__ = ["StopTime", "reckoned_up", "stop_times"]

_PROPORTION, _CONFIDENCE = 0.95, 0.95
_BEFORE_NS: Final = 100_000_000  # the speed at a demand is the lowest seen for so long before it
_FAST: Final = 0.5  # only stops from at least this share of the top speed are reckoned up to it


@dataclass(frozen=True, slots=True)
class StopTime:
    """The stop of one function: an upper bound in seconds from top speed, and what it rests on."""

    upper_s: float
    effect: str  # always standstill: torque off is not the end of the motion
    repeats: int
    sentence: str


@dataclass(frozen=True, slots=True)
class _Run:
    """One stop: its upper end as measured, in seconds, and the lowest speed from which it began, in 1/min."""

    upper_s: float
    speed: float


def stop_times(judgement: Judgement) -> Mapping[str, StopTime]:
    """By function; absent: one without standstill, without any stop from speed, or with one whose end was not seen.

    A stop from less than top speed is reckoned up to it; stops from less than half of it are not. The bound is the
    longest of all, or, if larger, the upper tolerance bound (95 % of stops with 95 % confidence, normal); never a mean.
    """
    seen, found = judgement.observation, {}
    required, top = seen.bench.required, seen.bench.bench.ratings.max_speed.number
    if required.effects.standstill is None:
        return {}
    below = required.effects.standstill.below.number
    for name, function in required.functions.items():
        runs = _runs(seen, [one for one in judgement.findings if one.function == name])
        if "standstill" in function.effects and runs:
            bound = _bound(runs, top, below)
            if bound is not None:
                found[name] = bound
    return found


def reckoned_up(seconds: float, speed: float, top: float, below: float) -> float:
    """At most how long a stop that took so long from `speed` until under `below` takes from `top`.

    In proportion to the speed to be lost: friction that does not fall with speed takes at most that long (elementary
    mechanics; that friction does not fall is common practice, no source). `below` less than `speed`, same unit.
    """
    return seconds * max(1.0, (top - below) / (speed - below))


def _runs(seen: Observation, findings: list[Finding]) -> list[_Run]:
    """Every stop from speed; none if the end of any of them is not known."""
    runs = []
    for one in findings:
        if one.effect != "standstill" or (one.latency is None and one.verdict is Verdict.NOT_OBSERVED):
            continue
        speed = None if one.demand is None else _speed(seen, one.demand)
        if one.latency is None or one.latency.hi is None or speed is None:
            return []
        runs.append(_Run(one.latency.hi / 1e9, speed))
    return runs


def _speed(seen: Observation, demand: Interval) -> float | None:
    """The lowest magnitude shown just before the demand, less what the value is uncertain by; None: not shown."""
    stated = seen.bench.required.effects.standstill
    name = None if stated is None else seen.shows.values.get(f"{stated.of}.speed")
    samples = None if name is None else seen.trace.signals.get(str(name))
    if name is None or samples is None:
        return None
    first, last = np.searchsorted(samples.times_ns, (demand.lo - _BEFORE_NS, demand.lo))
    values = np.abs(samples.values[first:last])
    if not len(values) or not np.isfinite(values).all():
        return None
    uncertain = message_of(seen.shows, name.message).uncertain.get(name.signal)
    return max(0.0, float(values.min()) - (0.0 if uncertain is None else float(uncertain.value)))


def _bound(runs: list[_Run], top: float, below: float) -> StopTime | None:
    fast = [run for run in runs if run.speed >= _FAST * top and run.speed > below]
    if not fast:
        return None
    ends_s = [reckoned_up(run.upper_s, run.speed, top, below) for run in fast]
    longest, repeats = max([*ends_s, *(run.upper_s for run in runs)]), len(ends_s)
    origin = f"stop(s) from {min(run.speed for run in fast):.0f} 1/min or more, reckoned up to {top:g} 1/min"
    if repeats < 2 or min(ends_s) == max(ends_s):
        text = f"longest upper bound of {repeats} {origin}; too few or too equal for a tolerance bound"
        return StopTime(longest, "standstill", repeats, text)
    upper = max(longest, upper_tolerance_bound(ends_s, _PROPORTION, _CONFIDENCE))
    text = f"upper tolerance bound (95 %/95 %, normal) of {repeats} {origin}, or the longest of them"
    return StopTime(upper, "standstill", repeats, text)
