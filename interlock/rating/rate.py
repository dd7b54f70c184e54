"""Rate every safety function of a bench: level, mission time, test interval, distance, SIL, and what decides."""

from collections.abc import Iterator, Mapping
from datetime import date

from interlock.rating.cautions import CAUTIONS
from interlock.rating.chain_facts import ChainFacts
from interlock.rating.counted import CountedUse
from interlock.rating.ends import Ends
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.iso13849 import PLS, SIL_OF_PL, reaches
from interlock.rating.iso13849_clauses import clause
from interlock.rating.iso14119 import INTERVAL_SOURCE, proof_test_interval_months
from interlock.rating.masked import masking_notes, with_masking
from interlock.rating.measured_fall import MeasuredFall
from interlock.rating.rate_discharge import BusRequirement, judge_bus
from interlock.rating.rate_function import Outcome, Supported, effects, evaluate, judge_level, supported_by
from interlock.rating.rate_guard import judge_guard
from interlock.rating.rate_low_demand import judge_low_demand
from interlock.rating.rate_mission import judge_mission
from interlock.rating.rate_parts import judge_parts, undated
from interlock.rating.rate_sil import judge_sil
from interlock.rating.rate_use import with_counts
from interlock.rating.rate_wear import judge_wear
from interlock.rating.result import BenchRating, FunctionRating, InputEffect, Judgement, RatingResult
from interlock.rating.step import Mark, Trail
from interlock.rating.values import positive
from interlock.verdict import Verdict, worst

__all__ = ["rate"]

_EMERGENCY = "ISO 13850:2015, 4.1.5.1 (from memory)"
_LEAST_EMERGENCY = "c"


def rate(
    inputs: RatingInputs,
    *,
    stop_time_upper_s: float | Mapping[str, float] | None = None,
    supported_categories: Supported | None = None,
    chain: ChainFacts | None = None,
    bus: BusRequirement | None = None,
    bus_fall: MeasuredFall | None = None,
    today: date | None = None,
    counts: Mapping[str, CountedUse] | None = None,
) -> RatingResult:
    """Every function at the pessimistic end of its inputs; pass only where nothing is left open.

    `stop_time_upper_s`: upper bound of the measured overall stop (never a mean), one for all or by function.
    `supported_categories`: by function, or by 'function/subsystem', the categories that the structure as wired was
    shown to support; without it no claim passes. `chain`: what else chain and proof test showed, above all whether the
    subsystems cover the way from demand to effect; without it no claim passes either. `bus`: what discharge is held
    against, `bus_fall`: how it fell on a log. `today`: the day on which wear, parts and timed delays are judged.
    `counts`: by device, what was counted on it, beside what the inputs state.
    RatingError for an input from which nothing may be computed.
    """
    counts = counts or {}
    inputs = with_masking(with_counts(inputs, counts), chain)
    found = tuple(
        _function(
            name,
            function,
            inputs,
            _stop(stop_time_upper_s, name),
            supported_categories,
            chain,
            today,
            counts,
        )
        for name, function in inputs.functions.items()
    )
    others = tuple(_low_demand(inputs, supported_categories, chain))
    if inputs.discharge is not None:
        others += (judge_bus(inputs.discharge, bus, bus_fall, _longest_stop(stop_time_upper_s, bus)),)
    if inputs.wear is not None:
        others += (judge_wear(inputs.wear, inputs.edition, inputs.mission_time_years, today, counts),)
    if (parts := judge_parts(inputs, today, counts)) is not None:
        others += (parts,)
    verdict = worst([*(one.verdict for one in found), *(one.verdict for one in others)])
    return RatingResult(verdict, inputs.edition, inputs.mission_time_years, found, CAUTIONS, others)


def _low_demand(
    inputs: RatingInputs, supported: Supported | None, chain: ChainFacts | None
) -> Iterator[BenchRating]:
    for name, given in inputs.low_demand.items():
        yield judge_low_demand(name, given, None if supported is None else supported.get(name), chain)


def _longest_stop(given: float | Mapping[str, float] | None, bus: BusRequirement | None) -> float | None:
    """The longest measured stop of the functions that discharge the bus; None if any of them was not measured."""
    names = () if bus is None else bus.by
    times = [time for name in names if (time := _stop(given, name)) is not None]
    return max(times) if names and len(times) == len(names) else None


def _stop(given: float | Mapping[str, float] | None, name: str) -> float | None:
    time = given.get(name) if isinstance(given, Mapping) else given
    return (
        None
        if time is None
        else positive(f"stop time of {name}", time, "give the upper bound in seconds, above 0")
    )


def _function(
    name: str,
    function: Function,
    inputs: RatingInputs,
    stop_s: float | None,
    supported: Supported | None,
    chain: ChainFacts | None,
    today: date | None,
    counts: Mapping[str, CountedUse],
) -> FunctionRating:
    trail, worse, better = Trail(), Ends(pessimistic=True), Ends(pessimistic=False)
    required = _required(function, inputs, trail)
    unrated = None if chain is None else chain.unrated.get(name)
    low = evaluate(name, function, inputs, supported, worse, trail).without(unrated)
    best = evaluate(name, function, inputs, supported, better, Trail()).without(unrated)
    judgements = [judge_level(required, low, best, clause(inputs.edition, "combine"), unrated)]
    if chain is not None and name in chain.emergency and not reaches(required, _LEAST_EMERGENCY):
        text = f"PL {required} is required of this emergency stop; PL {_LEAST_EMERGENCY} is the least."
        judgements.append(Judgement("required level", Verdict.FAIL, _EMERGENCY, text))
    judgements += judge_mission(function, inputs, worse, better, trail)
    judgements += _test_interval(required, function, low)
    if function.required_sil is not None:
        carried = {each: supported_by(name, each, supported) for each in function.subsystems}
        judgements.append(judge_sil(function, inputs, carried, unrated, worse, better, trail))
    if function.guard is not None:
        lock = None if chain is None else chain.locked.get(name)
        judgements.append(judge_guard(function.guard, stop_s, lock, required, trail, today))
    table = () if unrated else effects(name, function, inputs, supported)
    return FunctionRating(
        name,
        worst(judgement.verdict for judgement in judgements),
        required,
        low.pl,
        best.pl,
        low.pfhd,
        best.pfhd,
        None if low.pl is None else SIL_OF_PL[low.pl],
        _decided_by(required, low, table),
        _weakest(low),
        low.subsystems,
        tuple(judgements),
        table,
        tuple(trail.steps),
        (
            *_partial(function),
            *masking_notes(function, chain),
            *filter(None, (undated(inputs, name, counts),)),
            *(caution for subsystem in low.subsystems for caution in subsystem.cautions),
        ),
    )


def _partial(function: Function) -> Iterator[str]:
    if function.effects is not None:
        named = ", ".join(effect.replace("_", " ") for effect in function.effects)
        yield f"The level is of {named} alone; whatever else the bench requires of this function is not rated."
    for device, reason in function.not_rated.items():
        yield f"{device} lies between demand and effect and is not rated. Reason given: {reason}."


def _required(function: Function, inputs: RatingInputs, trail: Trail) -> str:
    asked, level = function.required, function.required.level
    if asked.pl is not None:
        return trail.note(
            "required level",
            "as given by the risk assessment",
            {},
            level,
            source="bench description",
            mark=Mark.GIVEN,
        )
    path = {"S": str(asked.severity), "F": str(asked.frequency), "P": str(asked.avoidance)}
    return trail.note(
        "required level", "risk graph of S, F, P", path, level, source=clause(inputs.edition, "risk_graph")
    )


def _decided_by(required: str, low: Outcome, table: tuple[InputEffect, ...]) -> str | None:
    """The input that alone would lift the function to its level; if it is reached or none can, the strongest one."""
    if low.pl is None or not reaches(low.pl, required):
        lifting = [item.name for item in table if item.pl is not None and reaches(item.pl, required)]
        if lifting:
            return lifting[0]
    return next((item.name for item in table if item.gain is None or item.gain > 1), None)


def _weakest(low: Outcome) -> str:
    """The subsystem that refuses, else the one of the lowest level, of equal ones that with the largest PFHd."""
    refusing = [each.name for each in low.subsystems if each.pl is None]
    if refusing:
        return refusing[0]
    return max(low.subsystems, key=lambda each: (-PLS.index(str(each.pl)), each.pfhd_per_h or 0.0)).name


def _test_interval(required: str, function: Function, low: Outcome) -> list[Judgement]:
    two_channel = [
        each.category for each in low.subsystems if each.electromechanical and each.category in ("3", "4")
    ]
    months = proof_test_interval_months(required, two_channel[0]) if two_channel and two_channel[0] else None
    if months is None:
        return []
    text = (
        f"Required PL {required} in two channels with contacts: proof test at least every {months} month(s)"
    )
    stated = function.proof_test_months
    if stated is None:
        return [
            Judgement(
                "test interval", Verdict.INCONCLUSIVE, INTERVAL_SOURCE, f"{text}; state proof_test_months."
            )
        ]
    verdict = Verdict.PASS if stated <= months else Verdict.FAIL
    return [
        Judgement("test interval", verdict, INTERVAL_SOURCE, f"{text}; every {stated:g} month(s) planned.")
    ]
