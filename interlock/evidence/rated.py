"""A bench rated: its section, the categories that its structure supports, and the stops measured on a log."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.bench import Bench
from interlock.evidence.bus_fall import measured_fall
from interlock.evidence.chain_shown import chain_facts, refuse_strange_faults
from interlock.evidence.counted import COUNTED_SCHEMA, RegisterInput, counted_document
from interlock.evidence.structure import fault_report, left_out, shown_categories
from interlock.rating.counted import CountedUse
from interlock.rating.rate import rate
from interlock.rating.rate_discharge import BusRequirement
from interlock.rating.result import RatingResult, json_schema
from interlock.rating.section import rating_and_places
from interlock.register.shown import object_schema
from interlock.replay import Judgement
from interlock.replay.counts import LogCounts
from interlock.replay.stop_time import StopTime, stop_times

__all__ = ["bus_requirement", "rated", "rating_document", "rating_schema"]


def rated(
    bench_file: Path,
    bench: Bench,
    judgement: Judgement | None,
    *,
    today: date | None,
    counts: Mapping[str, CountedUse] | None = None,
) -> tuple[RatingResult, Mapping[str, StopTime]]:
    """The rating, and the stop times that it used (none without a judged log).

    Claimed categories are held against the structure as wired, searched under its faults, and what is rated against
    the way from demand to effect; the log gives the stops and how the bus discharged. BenchError for mistakes
    in the section, InterlockError if there is none. `counts`: what a register holds of the use of each device.
    """
    inputs, source = rating_and_places(bench_file)
    refuse_strange_faults(bench, source, inputs)
    report = fault_report(bench, inputs)
    stops = stop_times(judgement) if judgement is not None else {}
    result = rate(
        inputs,
        stop_time_upper_s={name: one.upper_s for name, one in stops.items()},
        supported_categories=shown_categories(report, inputs, bench),
        chain=chain_facts(bench, source, inputs, report),
        bus=bus_requirement(bench),
        bus_fall=None if judgement is None else measured_fall(judgement),
        today=today,
        counts=counts,
    )
    return replace(result, cautions=(*result.cautions, *left_out(bench))), stops


def bus_requirement(bench: Bench) -> BusRequirement:
    """What the bench file asks of the bus, counted from the contactor's opening, and what the bench is rated for."""
    ratings, effects = bench.bench.ratings, bench.required.effects
    speed, volts, stated = ratings.max_speed.number, ratings.bus_voltage.number, effects.bus_discharged
    by = tuple(name for name, one in bench.required.functions.items() if "bus_discharged" in one.effects)
    rule = bench.required.decision
    chain_s = 0.0 if rule is None else rule.measuring_chain / 1e9
    if stated is None:
        return BusRequirement(speed, volts, chain_s=chain_s)
    opening = 0
    if stated.after == "demand" and effects.contactor_open is not None:
        opening = effects.contactor_open.within
    within_s = (stated.within - opening) / 1e9
    return BusRequirement(speed, volts, within_s, stated.at_most.number, stated.source, by, chain_s)


def rating_document(
    bench: Bench,
    fingerprint: str,
    result: RatingResult,
    stops: Mapping[str, StopTime],
    *,
    register: RegisterInput | None = None,
    log: LogCounts | None = None,
) -> dict[str, Any]:
    """The whole rating as one JSON document; `rating_schema` describes it."""
    return {
        "schema": "interlock rate 1",
        "software": __version__,
        "bench": {"id": bench.bench.id, "name": bench.bench.name, "fingerprint": fingerprint},
        "stop_times": {
            name: {
                "upper_s": one.upper_s,
                "effect": one.effect,
                "repeats": one.repeats,
                "sentence": one.sentence,
            }
            for name, one in stops.items()
        },
        **counted_document(register, log),
        **result.as_json(),
    }


def rating_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document."""
    schema: dict[str, Any] = json_schema()
    text, name = {"type": "string"}, {"type": "string", "minLength": 1}
    stop = object_schema(
        {
            "upper_s": {"type": "number", "exclusiveMinimum": 0},
            "effect": {"const": "standstill"},
            "repeats": {"type": "integer", "minimum": 1},
            "sentence": text,
        }
    )
    identity = {"id": name, "name": name, "fingerprint": name}
    own = {
        "schema": {"const": "interlock rate 1"},
        "software": name,
        "bench": {"type": "object", "properties": identity, "required": list(identity)},
        "stop_times": {"type": "object", "additionalProperties": stop},
        **COUNTED_SCHEMA,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "What `interlock rate --json` prints",
        "properties": {**own, **schema["properties"]},
        "required": [*own, *schema["required"]],
        "additionalProperties": False,
    }
