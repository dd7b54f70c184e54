"""Whether the DC bus is harmless in time, reckoned from its highest voltage: IEC 60204-1:2016, 6.2.4."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, pi
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
from interlock.rating.measured_fall import (
    MOST_UNSEEN,
    Limits,
    MeasuredFall,
    chain_words,
    judge_seen,
    unseen_share,
)
from interlock.rating.result import BenchRating, Judgement
from interlock.rating.step import Mark, Trail
from interlock.verdict import Verdict, worst

__all__ = ["BusRequirement", "judge_bus"]

_STANDARD: Final = "IEC 60204-1:2016, 6.2.4"
_TITLE: Final = "discharge of the DC bus"
_PHYSICS: Final = "capacitor and resistor, elementary"


@dataclass(frozen=True, slots=True)
class BusRequirement:
    """What the bench is required to do and what it is rated for; volts, seconds, 1/min.

    `within_s` counts from the contactor's opening; None for both limits: the bench names none, the standard's hold.
    `by`: the functions whose stop must discharge the bus. `chain_s`: expanded uncertainty of measured times.
    """

    top_speed_rpm: float
    rated_bus_v: float
    within_s: float | None = None
    at_most_v: float | None = None
    source: str = _STANDARD
    by: tuple[str, ...] = ()
    chain_s: float = 0.0


def judge_bus(
    given: DischargeInput,
    required: BusRequirement | None,
    measured: MeasuredFall | None = None,
    standstill_s: float | None = None,
) -> BenchRating:
    """Pass only if the slow end of every input keeps the stricter of the bench's limit and the standard's.

    What is stated and what was `measured` on a log are judged apart, the worse verdict counts. Back-EMF: a unit with
    magnets that the other one turns keeps the bus live; above the safe voltage the bounds of its coast-down from top
    speed (`slow_enough_s`) must be known, or `standstill_s`, the upper bound of the measured stop; else nothing is
    decided.
    """
    trail = Trail()
    if required is None:
        text = "The bench's ratings (bus voltage, top speed) are not known: nothing is decided."
        return _whole([_judged(_TITLE, Verdict.INCONCLUSIVE, text)], trail)
    limit_s, safe_v = _limits(given, required, trail)
    emf_v = _emf(given, required.top_speed_rpm, trail)
    held_v = _highest(given, emf_v, trail)
    slow = _slow(given, emf_v, safe_v, standstill_s, trail)
    if (missing := _missing(given, required, emf_v, safe_v, slow)) is not None:
        return _whole([_judged(_TITLE, Verdict.INCONCLUSIVE, missing)], trail)
    no_own_limit = required.at_most_v is None  # the standard's exemptions do not undo what the bench asks for
    stored = None if given.capacitance_f is None else given.capacitance_f.high
    if no_own_limit and not discharge_needed(held_v, stored):
        text = f"At {held_v:g} V the bus is at most {SAFE_V:g} V, or stores at most 60 µC: no discharge is asked for."
        return _whole([_judged(_TITLE, Verdict.PASS, text)], trail)
    question = Limits(given.highest_supply_v, held_v, emf_v, slow, limit_s, safe_v, required.chain_s)
    return _whole(list(_all(given, measured, question, trail)), trail)


def _all(
    given: DischargeInput, measured: MeasuredFall | None, asked: Limits, trail: Trail
) -> Iterator[Judgement]:
    stated = _stated(given, trail)
    if stated is not None:
        yield _decided("as stated", stated, asked, trail)
    if measured is not None:
        yield _measured(measured, stated, asked, trail)
    if stated is None and measured is None:
        text = (
            "No time constant is stated and none was measured: give the log of an emergency stop (--trace)."
        )
        yield _judged(_TITLE, Verdict.NOT_OBSERVED, text)


def _measured(
    fall: MeasuredFall, stated: tuple[float, float] | None, asked: Limits, trail: Trail
) -> Judgement:
    """By the fit; where there is none by what was seen. Inconclusive if most of the time was not seen."""
    title = f"{_TITLE}, as measured"
    if fall.fitted is None:
        return _judged(title, *judge_seen(fall, None if stated is None else stated[1], asked, trail))
    shortest, longest, lowest, highest = fall.fitted
    for what, value in (("shortest", shortest), ("longest", longest)):
        name = f"bus as measured: {what} time constant"
        trail.note(name, "as fitted, 95 % band", {}, value, unit="s", source=fall.source, mark=Mark.COMPUTED)
    found = _decided("as measured", (shortest, longest), asked, trail, asked.chain_s)
    if (share := unseen_share(asked, lowest, highest)) > MOST_UNSEEN:
        text = (
            f"{found.sentence} But {100 * share:.0f} % of that time lies outside the voltages on the log "
            f"({lowest:.3g} to {highest:.3g} V): record a stop from nearer the highest voltage."
        )
        return _judged(title, Verdict.INCONCLUSIVE, text)
    return found


def _decided(
    how: str, fit: tuple[float, float], asked: Limits, trail: Trail, chain_s: float = 0.0
) -> Judgement:
    found = judge_discharge(asked.supply_v, fit, asked.emf_v, asked.slow_s, asked.limit_s, asked.safe_v)
    numbers: dict[str, float] = {"tau": fit[1], "V": asked.held_v, "U": asked.safe_v}
    if asked.emf_v <= asked.safe_v or asked.slow_s is None:
        formula = "tau * ln(max(V, U) / U)"
    else:
        formula = "max(tau * ln(V / U), slow + tau * ln(E / U))"
        numbers |= {"slow": asked.slow_s[1], "E": asked.emf_v}
    title = f"bus {how}: longest time until it is harmless"
    trail.note(title, formula, numbers, found.time_s, unit="s", source=_PHYSICS, mark=Mark.COMPUTED)
    left = asked.held_v * exp(-asked.limit_s / fit[1]) if fit[1] > 0 else 0.0
    trail.note(
        f"bus {how}: voltage left at the limit, by its own discharge alone",
        "V * exp(-t / tau)",
        {"V": asked.held_v, "t": asked.limit_s, "tau": fit[1]},
        left,
        unit="V",
        source=_PHYSICS,
        mark=Mark.COMPUTED,
    )
    if found.verdict is Verdict.PASS and found.time_s + chain_s > asked.limit_s:
        return _judged(f"{_TITLE}, {how}", Verdict.INCONCLUSIVE, f"{found.sentence} {chain_words(chain_s)}")
    return _judged(f"{_TITLE}, {how}", found.verdict, found.sentence)


def _slow(
    given: DischargeInput, emf_v: float, safe_v: float, standstill_s: float | None, trail: Trail
) -> tuple[float, float] | None:
    """Bounds until no unit feeds the bus any more: as stated, else from demand to standstill as measured."""
    if given.slow_enough_s is not None:
        return given.slow_enough_s[0], given.slow_enough_s[1]
    if standstill_s is None or emf_v <= safe_v:
        return None
    trail.note(
        "bus: until no unit feeds it, at most",
        "the measured stop, from the demand to standstill",
        {},
        standstill_s,
        unit="s",
        source="log, upper bound of the stop from top speed",
        mark=Mark.COMPUTED,
    )
    return 0.0, standstill_s


def _missing(
    given: DischargeInput,
    required: BusRequirement,
    emf_v: float,
    safe_v: float,
    slow: tuple[float, float] | None,
) -> str | None:
    if given.highest_supply_v < required.rated_bus_v:
        return (
            f"highest_supply_v is {given.highest_supply_v:g} V, the bench is rated {required.rated_bus_v:g} V: "
            "state the highest voltage that the supply may have, its tolerance included."
        )
    if emf_v > safe_v and slow is None:
        return (
            f"A unit driven at top speed feeds back {emf_v:.4g} V, above {safe_v:g} V, and keeps the bus live: measure "
            "the coast-down from top speed and state slow_enough_s, its bounds until the voltage is below the limit."
        )
    return None


def _judged(about: str, verdict: Verdict, sentence: str) -> Judgement:
    return Judgement(about, verdict, _STANDARD, sentence)


def _whole(found: list[Judgement], trail: Trail) -> BenchRating:
    return BenchRating(_TITLE, worst(one.verdict for one in found), tuple(found), tuple(trail.steps))


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
            {"k": unit.emf_v_s_per_rad, "n": top_speed_rpm, "pi": pi},
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


def _stated(given: DischargeInput, trail: Trail) -> tuple[float, float] | None:
    """Shortest and longest time constant as the bench file states it; None if it states none."""
    if given.time_constant_s is not None:
        ends = given.time_constant_s
        for title, value in (("shortest", ends.low), ("longest", ends.high)):
            name = f"bus: {title} time constant"
            trail.note(name, "as stated", {}, value, unit="s", source=given.source, mark=Mark.GIVEN)
        return ends.low, ends.high
    size, bleeder = given.capacitance_f, given.bleeder_ohm
    if size is None or bleeder is None:
        return None
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
        numbers, name = {"R": ohms, "C": farads}, f"bus: {title} time constant"
        trail.note(name, "R * C", numbers, ohms * farads, unit="s", source=given.source, mark=Mark.GIVEN)
    return bleeder.low * size.low, bleeder.high * size.high
