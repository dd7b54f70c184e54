"""Discharge of the bus by the section: the stricter limit, the highest voltage, back-EMF that keeps it live."""

import math
from typing import Any

import pytest
from rating_benches import COVER_STOP, COVERED, PROVEN, changed

from interlock.errors import RatingError
from interlock.rating.inputs import read_rating
from interlock.rating.rate import rate
from interlock.rating.rate_discharge import BusRequirement, judge_bus
from interlock.rating.result import BenchRating
from interlock.verdict import Verdict

BUS: dict[str, Any] = {
    "source": "data sheets",
    "highest_supply_v": 400,
    "capacitance_f": 0.002,
    "bleeder_ohm": 1000,
    "units": {"drive": {"emf_v_s_per_rad": 0, "source": "data sheet"}},
}
ASKED = BusRequirement(top_speed_rpm=1500, rated_bus_v=400, within_s=5.0, at_most_v=60.0, source="the bench")


def judged(required: BusRequirement | None = ASKED, **changes: Any) -> BenchRating:
    section = changed(COVER_STOP) | {"discharge": changed(BUS, **changes)}
    given = read_rating(section).discharge
    assert given is not None
    return judge_bus(given, required)


def results(rating: BenchRating) -> dict[str, Any]:
    return {step.title: step.result for step in rating.steps}


def test_a_bleeder_that_is_fast_enough() -> None:
    """R C ln(400/60) = 2 s * 1.897 = 3.79 s (elementary), 5 s are allowed (IEC 60204-1:2016, 6.2.4)."""
    found = judged()
    assert found.verdict is Verdict.PASS
    assert results(found)["bus as stated: longest time until it is harmless"] == pytest.approx(
        2 * math.log(400 / 60)
    )


@pytest.mark.parametrize(
    ("within_s", "exposed", "verdict"),
    [
        (5.0, False, "pass"),
        (3.8, False, "pass"),
        (3.79, False, "fail"),
        (5.0, True, "fail"),
        (None, False, "pass"),
    ],
)
def test_the_shorter_limit_of_bench_and_standard_counts(within_s, exposed, verdict) -> None:
    required = BusRequirement(1500, 400, within_s, 60.0)
    assert judged(required, exposed_pins=exposed).verdict == verdict


@pytest.mark.parametrize(
    ("at_most_v", "verdict"), [(60.0, "pass"), (50.0, "pass"), (30.0, "fail"), (120.0, "pass")]
)
def test_the_lower_voltage_of_bench_and_standard_counts(at_most_v, verdict) -> None:
    """2 s * ln(400/30) = 5.18 s; a bench that allows 120 V is still held against 60 V."""
    found = judged(BusRequirement(1500, 400, 5.0, at_most_v))
    assert found.verdict == verdict
    assert results(found)["bus: voltage that counts as harmless"] == min(at_most_v, 60.0)


def test_tolerances_decide_by_their_slow_end() -> None:
    assert judged(bleeder_ohm=[900, 1400]).verdict is Verdict.INCONCLUSIVE
    assert judged(bleeder_ohm=[1400, 1500]).verdict is Verdict.FAIL
    assert judged(bleeder_ohm=[900, 1100]).verdict is Verdict.PASS


def test_a_fit_may_stand_for_the_parts() -> None:
    fitted = {"capacitance_f": None, "bleeder_ohm": None}
    assert judged(**fitted, time_constant_s=[1.9, 2.1]).verdict is Verdict.PASS
    assert judged(**fitted, time_constant_s=[1.9, 2.8]).verdict is Verdict.INCONCLUSIVE


def test_a_driven_unit_with_magnets_keeps_the_bus_live() -> None:
    """0.6 V s/rad * 157.08 rad/s = 94.2 V at 1500 1/min: above 60 V, so its coast-down must be known."""
    found = judged(units__drive__emf_v_s_per_rad=0.6)
    assert found.verdict is Verdict.INCONCLUSIVE
    assert "feeds back 94.25 V" in found.judgements[0].sentence
    assert "measure the coast-down" in found.judgements[0].sentence


@pytest.mark.parametrize(
    ("slow", "verdict"), [([1, 2], "pass"), ([1, 4.5], "inconclusive"), ([6, 7], "fail")]
)
def test_its_coast_down_then_decides(slow, verdict) -> None:
    """After 2 s at most below 60 V, 94.2 V fall to 60 V in 2 * ln(94.2/60) = 0.9 s at most."""
    assert judged(units__drive__emf_v_s_per_rad=0.6, slow_enough_s=slow).verdict == verdict


def test_the_unit_with_the_most_counts() -> None:
    units = {name: {"emf_v_s_per_rad": k, "source": "s"} for name, k in (("a", 0.1), ("b", 0.6), ("c", 0))}
    assert judged(units=units).verdict is Verdict.INCONCLUSIVE


def test_a_supply_below_the_rated_voltage_is_not_believed() -> None:
    found = judged(highest_supply_v=399)
    assert found.verdict is Verdict.INCONCLUSIVE
    assert "rated 400 V" in found.judgements[0].sentence


def test_without_the_ratings_of_the_bench_nothing_is_decided() -> None:
    assert judged(None).verdict is Verdict.INCONCLUSIVE


@pytest.mark.parametrize(("at_most_v", "verdict"), [(None, "pass"), (60.0, "fail")])
def test_exempt_by_charge_only_if_the_bench_asks_for_nothing(at_most_v, verdict) -> None:
    """60 µC are exempt (IEC 60204-1:2016, 6.2.4): 400 V * 0.15 µF = 60 µC; a limit of the bench's own still holds."""
    required = BusRequirement(1500, 400, None if at_most_v is None else 5.0, at_most_v)
    assert judged(required, capacitance_f=1.5e-7, bleeder_ohm=5e7).verdict == verdict


@pytest.mark.parametrize(
    "changes",
    [
        {"capacitance_f": None},
        {"bleeder_ohm": None},
        {"time_constant_s": 2.0},
        {"capacitance_f": -1},
        {"bleeder_ohm": math.nan},
        {"highest_supply_v": 0},
        {"slow_enough_s": [3, 2]},
        {"slow_enough_s": [3]},
        {"units__drive__source": None},
        {"units__drive__emf_v_s_per_rad": math.inf},
    ],
)
def test_bad_input_is_an_error(changes) -> None:
    with pytest.raises(RatingError, match=r"rating\.discharge"):
        judged(**changes)


@pytest.mark.parametrize("emf", [0.0, 0.6])
def test_a_worse_part_never_improves_it(emf) -> None:
    rank = {Verdict.PASS: 0, Verdict.INCONCLUSIVE: 1, Verdict.FAIL: 2}
    seen = [
        judged(bleeder_ohm=ohm, units__drive__emf_v_s_per_rad=emf).verdict for ohm in (500, 1000, 1350, 3000)
    ]
    assert [rank[one] for one in seen] == sorted(rank[one] for one in seen)


def test_the_whole_rating_is_no_better_than_the_discharge() -> None:
    section = changed(COVER_STOP) | {"discharge": changed(BUS, bleeder_ohm=3000)}
    result = rate(read_rating(section), supported_categories=PROVEN, chain=COVERED, bus=ASKED)
    assert result.functions[0].verdict is Verdict.PASS
    assert result.verdict is Verdict.FAIL


@pytest.mark.parametrize(
    ("supply_v", "at_most_v", "verdict"),
    [(57.6, None, "pass"), (60, None, "pass"), (60.1, None, "not_observed"), (57.6, 30.0, "not_observed")],
)
def test_a_bus_that_never_exceeds_60_v_needs_no_discharge(supply_v, at_most_v, verdict) -> None:
    """IEC 60204-1:2016, 6.2.4: of a 48 V bus charged to 57.6 V nothing is asked, whatever its capacitors hold."""
    required = BusRequirement(top_speed_rpm=1500, rated_bus_v=48, at_most_v=at_most_v)
    found = judged(required, highest_supply_v=supply_v, capacitance_f=None, bleeder_ohm=None)
    assert found.verdict == verdict
