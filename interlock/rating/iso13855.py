"""How far a safeguard must stand from the hazard, ISO 13855 (2010 and 2024); mm, s, mm/s.

T is the overall stop: from the guard opening or the field interrupted until the hazard is over; use its upper
bound, never its mean. Distances are rounded up for print, allowed times down.
"""

from fractions import Fraction
from math import ceil, floor
from typing import Final

from interlock.errors import RatingError
from interlock.rating.values import as_written, at_least_zero, positive

__all__ = [
    "HAND_MM_S",
    "WALK_MM_S",
    "access_time_s",
    "allowed_stop_time",
    "interlocking_guard",
    "light_curtain",
    "minimum_distance",
    "round_down_ms",
    "round_up_mm",
    "round_up_ms",
    "two_hand",
    "unlock_delay_s",
]

WALK_MM_S: Final = 1600.0
"""Approach by walking, and hand or arm beyond 500 mm, mm/s (both editions)."""
HAND_MM_S: Final = 2000.0
"""Approach of hand or arm close in, mm/s (both editions)."""

_TIME: Final = "give the upper bound of the overall stop in seconds, above 0"
_SPEED: Final = "give mm/s, above 0 (1600 walking, 2000 hand)"
_EXTRA: Final = "give mm, 0 or more"
_DISTANCE: Final = "give the distance from safeguard to hazard in mm, above 0"


def minimum_distance(stop_time_s: float, approach_speed_mm_s: float, intrusion_mm: float) -> float:
    """The least distance in mm: S = K · T + C, not rounded.

    Source: ISO 13855:2010, clause 5, formula 1.
    """
    time = positive("stop_time_s", stop_time_s, _TIME)
    speed = positive("approach_speed_mm_s", approach_speed_mm_s, _SPEED)
    return speed * time + at_least_zero("intrusion_mm", intrusion_mm, _EXTRA)


def allowed_stop_time(distance_mm: float, approach_speed_mm_s: float, intrusion_mm: float) -> float:
    """The longest overall stop in seconds that a given distance allows: T = (S - C) / K, not rounded.

    RatingError if the intrusion alone uses up the distance. Source: ISO 13855:2010, clause 5, solved for T.
    """
    distance = positive("distance_mm", distance_mm, _DISTANCE)
    speed = positive("approach_speed_mm_s", approach_speed_mm_s, _SPEED)
    intrusion = at_least_zero("intrusion_mm", intrusion_mm, _EXTRA)
    if intrusion >= distance:
        raise RatingError(
            f"distance_mm is {distance!r} and intrusion_mm {intrusion!r}: no stop is short enough; "
            "more distance, smaller openings or guard locking is needed"
        )
    return (distance - intrusion) / speed


def light_curtain(stop_time_s: float, resolution_mm: float) -> float:
    """The least distance in mm of a curtain at right angle to the approach.

    Up to 40 mm resolution d: 2000 · T + 8(d-14), at least 100; above 500 then 1600 · T + 8(d-14), at least 500.
    Above 40 up to 70 mm: 1600 · T + 850. Source: ISO 13855:2010, 6.2.3 (the limits 100 and 500 from memory).
    """
    resolution = positive("resolution_mm", resolution_mm, "give mm, above 0 and at most 70", at_most=70)
    if resolution > 40:
        return minimum_distance(stop_time_s, WALK_MM_S, 850)
    intrusion = max(0.0, 8 * (resolution - 14))
    near = max(100.0, minimum_distance(stop_time_s, HAND_MM_S, intrusion))
    return near if near <= 500 else max(500.0, minimum_distance(stop_time_s, WALK_MM_S, intrusion))


def two_hand(stop_time_s: float, *, hooded: bool = False) -> float:
    """The least distance in mm of a two-hand control: 1600 · T + 250; with hoods 1600 · T, at least 100.

    Source: ISO 13855:2010, clause 8 (from memory).
    """
    if hooded:
        return max(100.0, minimum_distance(stop_time_s, WALK_MM_S, 0))
    return minimum_distance(stop_time_s, WALK_MM_S, 250)


def interlocking_guard(
    stop_time_s: float,
    intrusion_mm: float = 0,
    opening_time_s: float = 0,
    approach_speed_mm_s: float = WALK_MM_S,
) -> float:
    """The least distance in mm of an interlocking guard without guard locking: K · (T - opening) + C.

    `intrusion_mm` from ISO 13857 if fingers or hand pass the opening before the stop is triggered;
    `opening_time_s` until the opening admits the body part. No 100 mm minimum. Source: ISO 13855:2010, clause 9.
    """
    time = positive("stop_time_s", stop_time_s, _TIME)
    left = max(0.0, time - at_least_zero("opening_time_s", opening_time_s, "give seconds, 0 or more"))
    speed = positive("approach_speed_mm_s", approach_speed_mm_s, _SPEED)
    return speed * left + at_least_zero("intrusion_mm", intrusion_mm, _EXTRA)


def access_time_s(
    distance_mm: float, approach_speed_mm_s: float, intrusion_mm: float = 0, opening_time_s: float = 0
) -> float:
    """Seconds from opening the guard until somebody can be at the hazard: (S - C) / K + opening; at least 0.

    Source: ISO 14119 (access time) and ISO 13855:2010, clause 9.
    """
    distance = positive("distance_mm", distance_mm, _DISTANCE)
    speed = positive("approach_speed_mm_s", approach_speed_mm_s, _SPEED)
    reach = at_least_zero("intrusion_mm", intrusion_mm, _EXTRA)
    opening = at_least_zero("opening_time_s", opening_time_s, "give seconds, 0 or more")
    return max(0.0, (distance - reach) / speed) + opening


def unlock_delay_s(stop_time_s: float, step_s: float = 0.1) -> float:
    """The least delay in seconds from stop to unlocking by time: the whole stop, rounded up to a timer's step.

    The access time is not subtracted: a locked guard opens at once. Source: ISO 14119:2013 (from memory).
    """
    step = as_written(positive("step_s", step_s, "give the step of the timer in seconds, above 0"))
    return float(ceil(as_written(positive("stop_time_s", stop_time_s, _TIME)) / step) * step)


def round_up_mm(distance_mm: float) -> int:
    """A required distance as printed: whole millimetres, never less."""
    return ceil(as_written(at_least_zero("distance_mm", distance_mm, _EXTRA)))


def round_down_ms(time_s: float) -> float:
    """An allowed time as printed: seconds to the millisecond, never more."""
    return float(Fraction(floor(as_written(at_least_zero("time_s", time_s, "give seconds")) * 1000), 1000))


def round_up_ms(time_s: float) -> float:
    """A measured upper bound as printed: seconds to the millisecond, never less."""
    return float(Fraction(ceil(as_written(at_least_zero("time_s", time_s, "give seconds")) * 1000), 1000))
