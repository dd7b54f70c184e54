"""When the DC supply is no longer a shock hazard after switching off: IEC 60204-1:2016, 6.2.4.

Live parts above 60 V must be at 60 V or below within 5 s (exposed pins: 1 s), unless they store at most 60 µC.
Volts, seconds, ohms, farads, watts; times count from switching off, not from standstill.
"""

from dataclasses import dataclass
from math import log, tau
from typing import Final

from interlock.errors import RatingError
from interlock.rating.values import as_written, at_least_zero, positive
from interlock.verdict import Verdict

__all__ = [
    "EXPOSED_PINS_S",
    "LIMIT_S",
    "SAFE_V",
    "Discharge",
    "back_emf_v",
    "discharge_needed",
    "energy_j",
    "highest_bus_v",
    "judge_discharge",
]

SAFE_V: Final = 60.0
LIMIT_S: Final = 5.0
EXPOSED_PINS_S: Final = 1.0
_EXEMPT_COULOMB: Final = 60e-6
_VOLT: Final = "give volts, above 0"
_FARAD: Final = "give farads, above 0, with the upper tolerance"


def energy_j(capacitance_f: float, volts: float) -> float:
    """Joules stored: C · V² / 2."""
    return positive("capacitance_f", capacitance_f, _FARAD) * at_least_zero("volts", volts, _VOLT) ** 2 / 2


def discharge_needed(highest_v: float, capacitance_f: float | None = None) -> bool:
    """False only if the parts never exceed 60 V, or store at most 60 µC at their highest voltage.

    Source: IEC 60204-1:2016, 6.2.4.
    """
    volts = at_least_zero("highest_v", highest_v, _VOLT)
    if volts <= SAFE_V:
        return False
    if capacitance_f is None:
        return True
    charge = as_written(positive("capacitance_f", capacitance_f, _FARAD)) * as_written(volts)
    return charge > as_written(_EXEMPT_COULOMB)


def back_emf_v(volts_per_rad_s: float, speed_rpm: float) -> float:
    """Peak volts between lines of a permanent-magnet unit that is turned: k · 2π · n / 60.

    While it turns the bus cannot fall below this voltage (by the drive's free-wheeling diodes).
    """
    constant = at_least_zero(
        "volts_per_rad_s", volts_per_rad_s, "give V·s/rad between lines, peak; 0 if no magnets"
    )
    return constant * at_least_zero("speed_rpm", speed_rpm, "give revolutions a minute, 0 or more") * tau / 60


def highest_bus_v(supply_v: float, *back_emfs_v: float) -> float:
    """The highest voltage that the bus may hold: supply with its tolerance, or any unit's back-EMF at top speed."""
    return max(
        [positive("supply_v", supply_v, _VOLT), *(at_least_zero("back_emf_v", v, _VOLT) for v in back_emfs_v)]
    )


@dataclass(frozen=True, slots=True)
class Discharge:
    """Whether the bus is harmless in time, the longest time that was reckoned with, and why."""

    verdict: Verdict
    time_s: float
    sentence: str


def judge_discharge(
    supply_v: float,
    time_constant_s: tuple[float, float],
    emf_at_top_speed_v: float = 0.0,
    emf_below_safe_s: tuple[float, float] | None = None,
    limit_s: float = LIMIT_S,
    safe_v: float = SAFE_V,
) -> Discharge:
    """Pass only if, at the slow end of both intervals, the bus is at `safe_v` (60 V) within the limit.

    `time_constant_s`: lower and upper bound of the fitted R · C. `emf_at_top_speed_v`: the highest back-EMF of any
    unit that still turns; above `safe_v` `emf_below_safe_s` is needed: bounds of the time from switching off until
    it is below. Until then the bus may follow it, and decay starts anew. Source: IEC 60204-1:2016, 6.2.4.
    """
    limit = positive("limit_s", limit_s, "give seconds, above 0")
    safe = positive("safe_v", safe_v, "give volts, above 0 and at most 60", at_most=SAFE_V)
    low, high = _bounds("time_constant_s", time_constant_s)
    fall = log(max(1.0, highest_bus_v(supply_v, emf_at_top_speed_v) / safe))
    soonest, latest = low * fall, high * fall
    if emf_at_top_speed_v > safe:
        first, last = _turning(emf_at_top_speed_v, emf_below_safe_s, safe)
        soonest, latest = max(soonest, first), max(latest, last + high * log(emf_at_top_speed_v / safe))
    verdict = Verdict.PASS if latest <= limit else Verdict.FAIL if soonest > limit else Verdict.INCONCLUSIVE
    cause = " A unit that still turns keeps the bus live." if latest > high * fall else ""
    held = highest_bus_v(supply_v, emf_at_top_speed_v)
    text = f"From {held:g} V the bus is at {safe:g} V after {soonest:.3g} to {latest:.3g} s; {limit:g} s are allowed."
    return Discharge(verdict, latest, text + cause)


def _turning(emf_v: float, below_safe_s: tuple[float, float] | None, safe_v: float) -> tuple[float, float]:
    if below_safe_s is None:
        raise RatingError(
            f"emf_at_top_speed_v is {emf_v!r}, above {safe_v:g} V: give emf_below_safe_s, the bounds of the time "
            "from switching off until the turning unit is slow enough"
        )
    return _bounds("emf_below_safe_s", below_safe_s)


def _bounds(what: str, value: tuple[float, float]) -> tuple[float, float]:
    low, high = (
        at_least_zero(what, end, "give seconds, 0 or more, as (lower, upper) bound") for end in value
    )
    if low > high:
        raise RatingError(f"{what} is {value!r}: give the lower bound first")
    return low, high
