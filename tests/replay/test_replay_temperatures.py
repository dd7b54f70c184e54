"""The highest temperatures of a run and of its stops: made records whose highest is known, with spikes and holes.

What is evidence and what is missing is the same as for every other signal; no standard rules these figures.
"""

import json
from dataclasses import replace
from typing import Any

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from replay_coasts import judged_sound
from replay_tape import BENCH, BENCH_FILE

from interlock.bench import Bench, parse_bench
from interlock.bench.observe import Amount, SignalName
from interlock.bench.quantity import parse_quantity
from interlock.errors import BenchError
from interlock.interval import Interval
from interlock.replay import Judgement, document, replay_schema
from interlock.replay.temperatures import Temperature, temperatures
from interlock.trace import Quality, QualityKind
from interlock.trace.model import Samples

S = 10**9
PORT, SIGNAL = "drive.winding_temperature", "DRV_Actual.Winding"
END = judged_sound().observation.trace.end_ns
EVERY = 100_000_000  # ns between samples


def warm(count: int = END // EVERY, *, noise: float = 0.1) -> np.ndarray:
    """From 40 degC up to 90 at two thirds of the run, then down again."""
    at = np.linspace(0, 1, count)
    rise = np.where(at < 2 / 3, 40 + 75 * at, 90 - 60 * (at - 2 / 3))
    return np.round(rise + np.random.default_rng(1).normal(0, noise, count), 1)


def rated(limit: str | None = None, uncertain: float = 0.0) -> Bench:
    """The sample bench, whose drive shows a winding temperature as well."""
    shows = BENCH.shows
    message = shows.messages["DRV_Actual"]
    if uncertain:
        told = {**message.uncertain, "Winding": Amount(uncertain, "degC")}
        message = message.model_copy(update={"uncertain": told})
    shown = {
        "messages": {**shows.messages, "DRV_Actual": message},
        "values": {**shows.values, PORT: SignalName("DRV_Actual", "Winding")},
    }
    temperatures_ = {} if limit is None else {PORT: parse_quantity(limit, "temperature")}
    ratings = BENCH.bench.ratings.model_copy(update={"temperatures": temperatures_})
    identity = BENCH.bench.model_copy(update={"ratings": ratings})
    return BENCH.model_copy(update={"shows": shows.model_copy(update=shown), "bench": identity})


def judged(bench: Bench, values: np.ndarray | None, *quality: Quality) -> Judgement:
    """The sound log's judgement with these temperatures, one each 100 ms."""
    judgement = judged_sound()
    seen, trace = judgement.observation, judgement.observation.trace
    signals = dict(trace.signals)
    if values is not None:
        stamps = np.arange(len(values), dtype=np.int64) * EVERY
        signals[SIGNAL] = Samples("DRV_Actual", "Winding", "degC", stamps, values)
    trace = replace(trace, signals=signals, quality=(*trace.quality, *quality))
    return replace(judgement, observation=replace(seen, bench=bench, shows=bench.shows, trace=trace))


def only(values: np.ndarray | None, *quality: Quality, **bench: Any) -> Temperature:
    (found,) = temperatures(judged(rated(**bench), values, *quality))
    return found


def missing(low_s: float, high_s: float) -> Quality:
    span = Interval(round(low_s * S), round(high_s * S))
    return Quality(QualityKind.GAP, "DRV_Actual", "Winding", span, "a.log:1", True, "a gap")


def test_a_bench_that_shows_no_temperature_is_told_none() -> None:
    assert temperatures(judged_sound()) == ()


def test_the_highest_of_the_run_with_its_instant() -> None:
    values = warm()
    found = only(values)
    at = int(np.argmax(values)) * EVERY
    assert found.run.highest == values.max()
    assert found.run.at.lo <= at <= found.run.at.hi + 4_000_000  # sampled up to 4 ms before its stamp
    assert (found.run.at_least, found.run.apart, found.limit, found.reached) == (False, 0, None, None)
    assert (
        found.sentence
        == f"winding temperature of the drive unit: {values.max():g} °C at {found.run.at.lo / S:.3f} s."
    )


def test_the_highest_of_each_stop_from_its_demand_to_its_reset() -> None:
    values = warm()
    stops = [one for one in judged_sound().stops if one.demand is not None]
    found = only(values).stops
    assert [one.function for one in found] == [one.name for one in stops]
    for peak, stop in zip(found, stops, strict=True):
        stamps = np.arange(len(values)) * EVERY
        end = stop.window.end.hi if stop.window.end is not None else END
        inside = values[(stamps >= stop.demand.lo) & (stamps <= end)]
        assert peak.highest == inside.max()
        assert peak.demand == stop.demand


@pytest.mark.parametrize("spike", [[327.6], [327.6, 327.6]], ids=["one", "two"])
def test_a_spike_does_not_count_and_is_told(spike: list[float]) -> None:
    """Should fail to be the highest: a sample or two that no neighbour bears out."""
    values = warm()
    values[100 : 100 + len(spike)] = spike
    found = only(values, limit="120 degC")
    assert found.run.highest == warm().max()
    assert (found.run.apart, found.run.hottest_apart) == (len(spike), 327.6)
    assert "327.6 °C), which does not count" in found.sentence
    assert found.reached is None  # nor is it certain that the limit was not reached


def test_a_heat_that_lasts_counts() -> None:
    values = warm()
    values[100:130] = 150.0
    found = only(values, limit="120 degC")
    assert (found.run.highest, found.reached) == (150.0, True)
    assert found.sentence.endswith("120 °C are permitted: REACHED.")


@pytest.mark.parametrize(
    ("limit", "reached", "said"),
    [
        (-1.0, True, "REACHED"),
        (0.0, None, "whether they were reached is not certain"),
        (1.0, None, "whether they were reached is not certain"),
        (1.5, False, "not reached"),
    ],
)
def test_near_the_limit_the_stated_uncertainty_decides(limit: float, reached: bool | None, said: str) -> None:
    """Plus or minus 1 degC at a highest of 90: a limit 1 below it is reached, one 1.5 above it is not."""
    flat = np.full(END // EVERY, 90.0)
    found = only(flat, limit=f"{90.0 + limit:g} degC", uncertain=1.0)
    assert found.reached is reached
    assert said in found.sentence


@pytest.mark.parametrize(("limit", "reached"), [("90 degC", True), ("90.1 degC", False)])
def test_an_exact_value_at_the_limit_has_reached_it(limit: str, reached: bool) -> None:
    assert only(np.full(END // EVERY, 90.0), limit=limit).reached is reached


def test_with_evidence_missing_it_is_at_least_so_much_and_never_not_reached() -> None:
    """Should fail to be certain: the hottest stretch is not shown."""
    whole, holed = only(warm(), limit="100 degC"), only(warm(), missing(39, 42), limit="100 degC")
    assert (whole.reached, holed.reached) == (False, None)
    assert holed.run.at_least
    assert holed.run.highest < whole.run.highest
    assert "at least" in holed.sentence
    assert "evidence is missing, so it may have been hotter" in holed.sentence


def test_a_hole_in_one_stop_says_nothing_against_the_others() -> None:
    first, second = (one.demand.lo / S for one in only(warm()).stops[:2])
    found = only(warm(), missing(first + 0.5, first + 1.0)).stops
    assert [one.at_least for one in found[:2]] == [True, False]
    assert second > first + 1.0


@pytest.mark.parametrize("values", [None, np.full(600, np.nan)], ids=["not_logged", "no_number"])
def test_a_signal_that_is_not_there_is_said_not_to_be(values: np.ndarray | None) -> None:
    found = only(values, limit="100 degC")
    assert (found.run.highest, found.run.at_least, found.reached) == (None, True, None)
    assert "the log shows no temperature that is evidence" in found.sentence
    assert "whether they were reached is not certain" in found.sentence
    json.dumps(found.as_json(), allow_nan=False)


def test_a_number_that_is_none_among_good_ones_leaves_it_open() -> None:
    values = warm()
    values[50] = np.nan
    found = only(values, limit="100 degC")
    assert (found.run.highest, found.run.at_least, found.reached) == (warm().max(), True, None)


@settings(max_examples=25, deadline=None)
@given(st.floats(-20, 150), st.floats(0, 3), st.integers(0, 1000), st.floats(-5, 5))
def test_not_reached_is_said_only_if_no_sample_and_no_error_reach_it(base, noise, seed, away) -> None:
    """Law: with errors up to the stated bound, the true highest is below the limit wherever `reached` is False."""
    random = np.random.default_rng(seed)
    true = base + np.cumsum(random.normal(0, 0.05, 300))
    shown = true + random.uniform(-noise, noise, len(true))
    limit = float(true.max() + away)
    found = only(shown, limit=f"{limit:.4f} degC", uncertain=float(f"{noise + 0.01:.4f}"))
    if found.reached is False:
        assert true.max() < limit
    if found.reached is True:
        assert true.max() > limit - 1e-3


def test_the_rows_keep_to_their_schema_and_change_no_verdict() -> None:
    schema = replay_schema()
    rows = {"$defs": schema["$defs"], **schema["properties"]["temperatures"]}
    judgement = judged(rated(limit="100 degC"), warm(), missing(39, 42))
    made = document(judgement, "0" * 64)
    jsonschema.validate(made["temperatures"], rows, jsonschema.Draft202012Validator)
    assert len(made["temperatures"][0]["stops"]) == 6
    assert made["verdict"] == document(judged_sound(), "0" * 64)["verdict"]


@pytest.mark.parametrize(
    ("entry", "why"),
    [
        ("{drive.winding_temperature: 140 degC}", None),
        ("{drive.speed: 140 degC}", "there is no temperature of this name"),
        ("{motor.winding_temperature: 140 degC}", "there is no device 'motor'"),
        ("{drive.winding_temperature: 140 1/min}", "temperature"),
        ("{drive.winding_temperature: 140}", "no unit"),
    ],
)
def test_a_permitted_temperature_is_of_a_value_that_a_device_has(entry: str, why: str | None) -> None:
    text = BENCH_FILE.read_text("utf-8")
    at = "ratings: {"
    assert at in text
    changed = text.replace(at, f"{at}temperatures: {entry}, ", 1)
    if why is None:
        found = parse_bench("bench.yaml", changed, folder=BENCH_FILE.parent)
        assert found.bench.ratings.temperatures[PORT].number == 140.0
        return
    with pytest.raises(BenchError, match=why) as told:
        parse_bench("bench.yaml", changed, folder=BENCH_FILE.parent)
    assert str(told.value).startswith("bench.yaml:")
