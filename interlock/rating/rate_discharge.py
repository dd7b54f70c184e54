"""Whether the DC bus is harmless in time, reckoned from its highest voltage: IEC 60204-1:2016, 6.2.4."""

from dataclasses import dataclass
from typing import Final

from interlock.rating.discharge import (
    EXPOSED_PINS_S,
    LIMIT_S,
    SAFE_V,
    back_emf_v,
    discharge_needed,
    energy_j,
    highest_bus_v,
    judge_discharge,
)
from interlock.rating.inputs_bench import DischargeInput
from interlock.rating.result import BenchRating, Judgement
from interlock.rating.step import Mark, Trail
from interlock.verdict import Verdict

__all__ = ["BusRequirement", "judge_bus"]

_STANDARD: Final = "IEC 60204-1:2016, 6.2.4"
_ABOUT: Final = "discharge of the DC bus"
_PHYSICS: Final = "capacitor and resistor, elementary"


@dataclass(frozen=True, slots=True)
class BusRequirement:
    """What the bench is required to do and what it is rated for; volts, seconds, 1/min.

    `within_s` counts from the contactor's opening; None for both limits: the bench names none, the standard's hold.
    """

    top_speed_rpm: float
    rated_bus_v: float
    within_s: float | None = None
    at_most_v: float | None = None
    source: str = _STANDARD


def judge_bus(given: DischargeInput, required: BusRequirement | None) -> BenchRating:
    """Pass only if the slow end of every input keeps the stricter of the bench's limit and the standard's.

    Back-EMF: a unit with magnets that the other one turns keeps the bus live; above the safe voltage the bounds
    of its coast-down from top speed (`slow_enough_s`) must be known, else nothing is decided.
    """
    trail = Trail()
    if required is None:
        text = "The bench's ratings (bus voltage, top speed) are not known: nothing is decided."
        return _found(Verdict.INCONCLUSIVE, text, trail)
    limit_s, safe_v = _limits(given, required, trail)
    emf_v = _emf(given, required.top_speed_rpm, trail)
    held_v = _highest(given, emf_v, trail)
    if (missing := _missing(given, required, emf_v, safe_v)) is not None:
        return _found(Verdict.INCONCLUSIVE, missing, trail)
    no_own_limit = required.at_most_v is None  # the standard's exemptions do not undo what the bench asks for
    if (
        no_own_limit
        and given.capacitance_f is not None
        and not discharge_needed(held_v, given.capacitance_f.high)
    ):
        text = f"At {held_v:g} V the bus is at most {SAFE_V:g} V, or stores at most 60 µC: no discharge is asked for."
        return _found(Verdict.PASS, text, trail)
    fit = _time_constant(given, trail)
    slow = None if given.slow_enough_s is None else (given.slow_enough_s[0], given.slow_enough_s[1])
    found = judge_discharge(given.highest_supply_v, fit, emf_v, slow, limit_s, safe_v)
    _note_time(given, held_v, fit, emf_v, safe_v, found.time_s, trail)
    return _found(found.verdict, found.sentence, trail)


def _missing(given: DischargeInput, required: BusRequirement, emf_v: float, safe_v: float) -> str | None:
    if given.highest_supply_v < required.rated_bus_v:
        return (
            f"highest_supply_v is {given.highest_supply_v:g} V, the bench is rated {required.rated_bus_v:g} V: "
            "state the highest voltage that the supply may have, its tolerance included."
        )
    if emf_v > safe_v and given.slow_enough_s is None:
        return (
            f"A unit driven at top speed feeds back {emf_v:.4g} V, above {safe_v:g} V, and keeps the bus live: measure "
            "the coast-down from top speed and state slow_enough_s, its bounds until the voltage is below the limit."
        )
    return None


def _found(verdict: Verdict, sentence: str, trail: Trail) -> BenchRating:
    return BenchRating(
        _ABOUT, verdict, (Judgement(_ABOUT, verdict, _STANDARD, sentence),), tuple(trail.steps)
    )


def _limits(given: DischargeInput, required: BusRequirement, trail: Trail) -> tuple[float, float]:
    own, asked = EXPOSED_PINS_S if given.exposed_pins else LIMIT_S, required.within_s
    limit = trail.note(
        "bus: time allowed after the contactor has opened",
        "the shorter of bench and standard",
        {"bench": "none stated" if asked is None else asked, "standard": own},
        own if asked is None else min(own, asked),
        unit="s",
        source="; ".join(dict.fromkeys((required.source, _STANDARD))),
    )
    volts = SAFE_V if required.at_most_v is None else min(SAFE_V, required.at_most_v)
    trail.note(
        "bus: voltage that counts as harmless",
        "the lower of bench and standard",
        {"bench": "none stated" if required.at_most_v is None else required.at_most_v, "standard": SAFE_V},
        volts,
        unit="V",
        source="; ".join(dict.fromkeys((required.source, _STANDARD))),
    )
    return limit, volts


def _emf(given: DischargeInput, top_speed_rpm: float, trail: Trail) -> float:
    highest = 0.0
    for name, unit in given.units.items():
        volts = trail.note(
            f"{name}: back-EMF while the other unit turns it at top speed",
            "k * 2 * pi * n / 60",
            {"k": unit.emf_v_s_per_rad, "n": top_speed_rpm, "pi": 3.14159265},
            back_emf_v(unit.emf_v_s_per_rad, top_speed_rpm),
            unit="V",
            source=unit.source,
            mark=Mark.GIVEN,
        )
        highest = max(highest, volts)
    return highest


def _highest(given: DischargeInput, emf_v: float, trail: Trail) -> float:
    return trail.note(
        "bus: highest voltage",
        "max(V, E)",
        {"V": given.highest_supply_v, "E": emf_v},
        highest_bus_v(given.highest_supply_v, emf_v),
        unit="V",
        source="common practice, no source",
        mark=Mark.PRACTICE,
    )


def _time_constant(given: DischargeInput, trail: Trail) -> tuple[float, float]:
    if given.time_constant_s is not None:
        ends = given.time_constant_s
        for title, value in (("shortest", ends.low), ("longest", ends.high)):
            trail.note(
                f"bus: {title} time constant",
                "as stated",
                {},
                value,
                unit="s",
                source=given.source,
                mark=Mark.GIVEN,
            )
        return ends.low, ends.high
    size, bleeder = given.capacitance_f, given.bleeder_ohm
    assert size is not None  # noqa: S101 - the section's check saw to it
    assert bleeder is not None  # noqa: S101 - the same
    trail.note(
        "bus: energy stored at the highest supply voltage",
        "C * V ** 2 / 2",
        {"C": size.high, "V": given.highest_supply_v},
        energy_j(size.high, given.highest_supply_v),
        unit="J",
        source=_PHYSICS,
        mark=Mark.COMPUTED,
    )
    for title, ohms, farads in (("shortest", bleeder.low, size.low), ("longest", bleeder.high, size.high)):
        numbers = {"R": ohms, "C": farads}
        trail.note(
            f"bus: {title} time constant",
            "R * C",
            numbers,
            ohms * farads,
            unit="s",
            source=given.source,
            mark=Mark.GIVEN,
        )
    return bleeder.low * size.low, bleeder.high * size.high


def _note_time(
    given: DischargeInput,
    held_v: float,
    fit: tuple[float, float],
    emf_v: float,
    safe_v: float,
    latest_s: float,
    trail: Trail,
) -> None:
    title, numbers = "bus: longest time until it is harmless", {"tau": fit[1], "V": held_v, "U": safe_v}
    if emf_v <= safe_v or given.slow_enough_s is None:
        formula = "tau * ln(max(V, U) / U)"
    else:
        formula = "max(tau * ln(V / U), slow + tau * ln(E / U))"
        numbers |= {"slow": given.slow_enough_s[1], "E": emf_v}
    trail.note(title, formula, numbers, latest_s, unit="s", source=_PHYSICS, mark=Mark.COMPUTED)
