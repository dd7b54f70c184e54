"""Discharges told from the highest voltage: against the exponential law, with a known time constant.

t = tau ln(V/U), remaining V exp(-t/tau): elementary; 60 V within 5 s: IEC 60204-1:2016, 6.2.4. The sample bench's log
generator empties its bus with a time constant of its own, which the package never sees.
"""

import json
from dataclasses import replace
from math import exp, log
from types import SimpleNamespace
from typing import Any

import jsonschema
import numpy as np
import pytest
from replay_coasts import judged_sound
from replay_tape import BENCH

from interlock.bench import Bench
from interlock.bench.required_models import Decision
from interlock.interval import Interval
from interlock.replay import Judgement, replay_schema
from interlock.replay.discharging import (
    BusRecord,
    Discharge,
    bus_records,
    discharges,
    fitted,
    highest_voltage,
)

S = 10**9
VOLTS = "PSU_Bus.BusVoltage"
RATED = BENCH.bench.ratings.bus_voltage.number


def rated(**discharge: Any) -> Bench:
    return BENCH.model_copy(update={"rating": {"discharge": discharge}})


def judged(bench: Bench = BENCH, volts: np.ndarray | None = None) -> Judgement:
    """The sound log's judgement, of another bench, or with other volts."""
    judgement = judged_sound()
    seen = replace(judgement.observation, bench=bench)
    if volts is not None:
        signals = dict(seen.trace.signals)
        signals[VOLTS] = replace(signals[VOLTS], values=volts)
        seen = replace(seen, trace=replace(seen.trace, signals=signals))
    return replace(judgement, observation=seen)


def emptied(tau: float, start: float = 96.0) -> np.ndarray:
    """What the meter shows if the bus empties with `tau` from the one opening of the contactor on."""
    judgement = judged_sound()
    ((_, record),) = bus_records(judgement)
    assert isinstance(record, BusRecord)
    samples = judgement.observation.trace.signals[VOLTS]
    since = (samples.times_ns - record.times_ns[0]) / 1e9 + 0.02
    return np.where(since < 0, samples.values, start * np.exp(-np.maximum(0.0, since) / tau))


def only(judgement: Judgement) -> Discharge:
    (found,) = discharges(judgement)
    return found


@pytest.mark.parametrize("tau", [0.5, 0.9, 1.6])
def test_the_figures_are_those_of_the_exponential_law(tau: float) -> None:
    found = only(judged(rated(highest_supply_v=110.0), emptied(tau)))
    value, low, high = found.time_constant_s
    assert low <= tau <= high
    assert value == pytest.approx(tau, rel=0.01)
    assert found.highest_v == 110.0
    truth = tau * log(110.0 / found.safe_v)
    assert found.taken.lo / S <= truth <= found.taken.hi / S
    assert (found.taken.hi - found.taken.lo) / S < 0.1 * truth + 0.01
    assert found.remaining_v[0] <= 110.0 * exp(-5.0 / tau) <= found.remaining_v[1]
    assert found.holds is True


def test_the_sentence_holds_every_figure_with_its_band() -> None:
    said = only(judged()).sentence
    for words in (
        "Time constant 0.90",
        "95 % band)",
        f"from {RATED:g} V",
        "are allowed: that holds.",
        "After 5 s",
        "V are left.",
    ):
        assert words in said, words


@pytest.mark.parametrize(("limit_s", "holds"), [("hi", True), ("hi-1", None), ("lo", None), ("lo-1", False)])
def test_within_the_limit_only_up_to_the_upper_end(limit_s: str, holds: bool | None) -> None:
    """The comparison that matters, by one nanosecond."""
    taken = only(judged()).taken
    limit = {"hi": taken.hi, "hi-1": taken.hi - 1, "lo": taken.lo, "lo-1": taken.lo - 1}[limit_s]
    assert only(judged(limited(within=limit))).holds is holds


def limited(**changes: Any) -> Bench:
    effects = BENCH.required.effects
    stated = effects.bus_discharged.model_copy(update=changes)
    required = BENCH.required.model_copy(
        update={"effects": effects.model_copy(update={"bus_discharged": stated})}
    )
    return BENCH.model_copy(update={"required": required})


def test_a_limit_that_counts_from_the_demand_leaves_less_after_the_opening() -> None:
    opening = BENCH.required.effects.contactor_open.within
    after_demand = only(judged(limited(after="demand", within=5 * S)))
    assert after_demand.limit_ns == 5 * S - opening
    assert only(judged(limited(after="contactor_open", within=5 * S))).limit_ns == 5 * S


def test_the_stated_measuring_chain_widens_the_band() -> None:
    stated = Decision(rule="guard band", measuring_chain="7 ms", source="s")
    bench = BENCH.model_copy(update={"required": BENCH.required.model_copy(update={"decision": stated})})
    plain, wide = only(judged()).taken, only(judged(bench)).taken
    assert wide == Interval(plain.lo - 7_000_000, plain.hi + 7_000_000)


@pytest.mark.parametrize(
    ("given", "volts"),
    [
        ({}, RATED),
        ({"highest_supply_v": 120.0}, 120.0),
        ({"highest_supply_v": 10}, RATED),  # never below what the bench is rated for
        (
            {"units": {"drive": {"emf_v_s_per_rad": 1.0}, "load": {"emf_v_s_per_rad": 0.1}}},
            157.08,
        ),  # 1500 1/min
        ({"highest_supply_v": "110 V"}, None),
        ({"highest_supply_v": True}, None),
        ({"units": {"drive": {"emf_v_s_per_rad": "much"}}}, None),
        ({"units": ["drive"]}, None),
        ({"units": {"drive": 3}}, None),
    ],
)
def test_the_highest_voltage(given: dict[str, Any], volts: float | None) -> None:
    """Rated, supplied or fed back at top speed, whichever is highest; never guessed where an entry is no number."""
    found = highest_voltage(rated(**given))
    assert found == (None if volts is None else pytest.approx(volts, abs=0.01))


@pytest.mark.parametrize(
    ("bench", "why"),
    [
        (rated(highest_supply_v="110 V"), "no highest voltage is known"),
        (
            rated(units={"drive": {"emf_v_s_per_rad": 0.5}}),
            "A unit that is turned at top speed feeds the bus above 60 V",
        ),
    ],
)
def test_no_time_where_it_would_rest_on_a_guess(bench: Bench, why: str) -> None:
    """Should fail: the time constant stays, a time that a turning unit makes longer is not given."""
    found = only(judged(bench))
    assert found.time_constant_s is not None
    assert (found.taken, found.remaining_v, found.holds) == (None, None, None)
    assert why in found.sentence


def test_a_highest_voltage_far_above_what_was_seen_decides_nothing() -> None:
    found = only(judged(rated(highest_supply_v=900.0)))
    assert found.holds is None
    assert "of that time lies outside the voltages recorded" in found.sentence


def test_a_bleeder_in_two_steps_is_refused_and_what_was_seen_is_told() -> None:
    """Should fail: no single exponential; the seen span holds the time by which it was harmless."""
    quick, slow = emptied(0.6), emptied(1.8)
    ((_, record),) = bus_records(judged())
    times = judged().observation.trace.signals[VOLTS].times_ns
    late = times > record.times_ns[0] + S // 4
    at = int(np.argmax(late))
    volts = np.where(late, slow * quick[at] / slow[at], quick)
    found = only(judged(volts=volts))
    assert (found.time_constant_s, found.taken, found.holds) == (None, None, None)
    assert "no single exponential fits" in found.sentence
    assert "Seen without it: from 9" in found.sentence


def test_a_steady_error_of_the_meter_within_its_statement_is_no_misfit() -> None:
    """0.6 V stated, 0.4 V true, next to no noise: one exponential of another zero. Unstated it is refused."""
    times = np.arange(0, 3.0, 0.012)
    shown = 300 * np.exp(-times / 1.1) + 0.4 + np.random.default_rng(1).normal(0, 0.02, len(times))
    record = BusRecord(np.round(times * S).astype(np.int64), shown, 300.0, Interval(0, S), 0.6, 0.0)
    fall = fitted(record)
    assert not isinstance(fall, str)
    assert fall.shortest_s <= 1.1 <= fall.longest_s
    assert "no single exponential fits" in fitted(replace(record, offset_v=0.0))


def test_a_bench_that_asks_for_no_discharge_is_told_none() -> None:
    effects = BENCH.required.effects.model_copy(update={"bus_discharged": None})
    bench = BENCH.model_copy(update={"required": BENCH.required.model_copy(update={"effects": effects})})
    assert discharges(judged(bench)) == ()


def test_the_rows_keep_to_their_schema() -> None:
    schema = replay_schema()
    rows = {"$defs": schema["$defs"], **schema["properties"]["discharges"]}
    for bench in (BENCH, rated(highest_supply_v="x"), rated(units={"drive": {"emf_v_s_per_rad": 0.5}})):
        made = [one.as_json() for one in discharges(judged(bench))]
        jsonschema.validate(made, rows, jsonschema.Draft202012Validator)
        json.dumps(made, allow_nan=False)
        assert set(made[0]) == set(rows["items"]["required"]) == set(rows["items"]["properties"])


def test_a_discharge_shown_in_part_says_why() -> None:
    found = Discharge("f", "bus", None, S, 60.0, 96.0, "evidence of the voltage is missing")
    assert (
        found.sentence == "The time constant of the bus cannot be said: evidence of the voltage is missing."
    )
    assert SimpleNamespace(**found.as_json()).demand_ns is None
