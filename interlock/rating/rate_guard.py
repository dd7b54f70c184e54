"""Whether the guard stands far enough for the measured stop, or must be locked, and for how long."""

from datetime import date

from interlock.errors import RatingError
from interlock.rating.chain_facts import Lock
from interlock.rating.inputs_guard import Guard
from interlock.rating.iso13855 import (
    access_time_s,
    allowed_stop_time,
    interlocking_guard,
    round_down_ms,
    round_up_mm,
    round_up_ms,
    unlock_delay_s,
)
from interlock.rating.rate_unlock import at_standstill, by_time
from interlock.rating.result import Judgement
from interlock.rating.step import Trail
from interlock.verdict import Verdict

__all__ = ["judge_guard"]

_PLACE = "ISO 13855:2010, clauses 5 and 9"


def judge_guard(
    guard: Guard,
    stop_time_upper_s: float | None,
    lock: Lock | None,
    required: str,
    trail: Trail,
    today: date | None = None,
) -> Judgement:
    """Compare the guard's distance, or its unlocking, with the upper bound of the measured overall stop.

    `lock`: what the chain showed of the guard staying locked until standstill; None: nothing. For a `required` level
    above c a lock that one fault frees is not enough. `today`: the day on which a timed delay is judged.
    """
    _note_allowed(guard, trail)
    if guard.unlock == "standstill":
        return at_standstill(lock, required)
    if stop_time_upper_s is None:
        sentence = "No stop was measured, so nothing can be said of the distance: measure the overall stop."
        return Judgement("guard distance", Verdict.NOT_OBSERVED, _PLACE, sentence)
    if guard.unlock == "delay":
        return by_time(guard, stop_time_upper_s, lock, required, today, trail)
    return _unlocked(guard, stop_time_upper_s, _least_mm(guard, stop_time_upper_s, trail))


def _least_mm(guard: Guard, stop_s: float, trail: Trail) -> float:
    numbers = {
        "K": guard.approach_speed_mm_s,
        "T": stop_s,
        "opening": guard.opening_time_s,
        "C": guard.intrusion_mm,
    }
    distance = interlocking_guard(stop_s, guard.intrusion_mm, guard.opening_time_s, guard.approach_speed_mm_s)
    formula = "K * max(0, T - opening) + C"
    return trail.note("guard: least distance", formula, numbers, distance, unit="mm", source=_PLACE)


def _note_allowed(guard: Guard, trail: Trail) -> None:
    numbers = {"S": guard.distance_mm, "C": guard.intrusion_mm, "K": guard.approach_speed_mm_s}
    numbers |= {"opening": guard.opening_time_s}
    try:
        time = allowed_stop_time(guard.distance_mm, guard.approach_speed_mm_s, guard.intrusion_mm)
    except RatingError as error:
        trail.note("guard: longest stop without locking", str(error), {}, "none", source=_PLACE)
        return
    total = time + guard.opening_time_s
    formula = "(S - C) / K + opening"
    trail.note("guard: longest stop without locking", formula, numbers, total, unit="s", source=_PLACE)


def _unlocked(guard: Guard, stop_s: float, least_mm: float) -> Judgement:
    stop = f"a stop of at most {round_up_ms(stop_s):g} s"
    shown = f"{round_up_mm(least_mm)} mm needed for {stop}, {guard.distance_mm:g} mm there"
    if least_mm <= guard.distance_mm:
        return Judgement("guard distance", Verdict.PASS, _PLACE, f"{shown}.")
    access = access_time_s(
        guard.distance_mm, guard.approach_speed_mm_s, guard.intrusion_mm, guard.opening_time_s
    )
    cure = (
        f"a person may be at the hazard after {round_down_ms(access):g} s: guard locking is needed, "
        f"unlocked at standstill or no sooner than {unlock_delay_s(stop_s):g} s after the stop"
    )
    return Judgement("guard distance", Verdict.FAIL, _PLACE, f"{shown}; {cure}.")
