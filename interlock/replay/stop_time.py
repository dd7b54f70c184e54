"""How long each function's stop takes at worst, by all of its demands in a log."""

from collections.abc import Mapping
from dataclasses import dataclass

from interlock.replay.judge import Judgement
from interlock.timing.statistics import upper_tolerance_bound

__all__ = ["StopTime", "stop_times"]

_PROPORTION, _CONFIDENCE = 0.95, 0.95


@dataclass(frozen=True, slots=True)
class StopTime:
    """The stop of one function: an upper bound in seconds, and what it rests on."""

    upper_s: float
    effect: str  # standstill if the function requires it, else torque_off
    repeats: int
    sentence: str


def stop_times(judgement: Judgement) -> Mapping[str, StopTime]:
    """By function; a function with a stop whose end was not seen, or without any stop, is absent.

    The bound is the longest upper end of the latencies, or, if larger, the upper tolerance bound (95 % of stops
    with 95 % confidence, normal) of these ends; never a mean.
    """
    found = {}
    for name, function in judgement.observation.bench.required.functions.items():
        effect = "standstill" if "standstill" in function.effects else "torque_off"
        ends = [
            one.latency.hi
            for one in judgement.findings
            if one.function == name and one.effect == effect and one.latency is not None
        ]
        known = [end / 1e9 for end in ends if end is not None]
        if known and len(known) == len(ends):
            found[name] = _bound(effect, known)
    return found


def _bound(effect: str, ends_s: list[float]) -> StopTime:
    longest, repeats = max(ends_s), len(ends_s)
    if repeats < 2 or min(ends_s) == longest:
        sentence = f"longest upper bound of {repeats} stop(s); too few or too equal for a tolerance bound"
        return StopTime(longest, effect, repeats, sentence)
    upper = max(longest, upper_tolerance_bound(ends_s, _PROPORTION, _CONFIDENCE))
    sentence = f"upper tolerance bound (95 %/95 %, normal) of the upper ends of {repeats} stops, or the longest of them"
    return StopTime(upper, effect, repeats, sentence)
