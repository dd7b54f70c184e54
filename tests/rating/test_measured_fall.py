"""Discharge as measured on a log: by the fit, by what was seen without one, and never better than what is stated."""

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rating_benches import COVER_STOP, COVERED, PROVEN, changed

from interlock.rating.inputs import read_rating
from interlock.rating.measured_fall import Limits, MeasuredFall, SeenFall, judge_seen, unseen_share
from interlock.rating.rate import rate
from interlock.rating.rate_discharge import BusRequirement, judge_bus
from interlock.rating.result import BenchRating
from interlock.rating.step import Trail
from interlock.verdict import Verdict

BUS: dict[str, Any] = {
    "source": "data sheets",
    "highest_supply_v": 400,
    "capacitance_f": 0.002,
    "bleeder_ohm": 1000,
    "units": {"drive": {"emf_v_s_per_rad": 0, "source": "data sheet"}},
}
LOG_ONLY = {"capacitance_f": None, "bleeder_ohm": None}
ASKED = BusRequirement(1500, 400, 5.0, 60.0, "the bench", ("cover_stop",))
SLOW_UNIT = {"units__drive__emf_v_s_per_rad": 0.6}  # 94.2 V at 1500 1/min


def fitted(longest: float, shortest: float | None = None, low: float = 30, high: float = 390) -> MeasuredFall:
    return MeasuredFall((shortest or longest - 0.02, longest, low, high), (), "log")


def seen(*falls: tuple[float, float, float | None]) -> MeasuredFall:
    """Without a fit: from volts, soonest and latest."""
    return MeasuredFall(None, tuple(SeenFall(*one) for one in falls), "log", "no single exponential fits")


def judged(measured: MeasuredFall | None, standstill_s: float | None = None, **changes: Any) -> BenchRating:
    section = changed(COVER_STOP) | {"discharge": changed(BUS, **changes)}
    given = read_rating(section).discharge
    assert given is not None
    return judge_bus(given, ASKED, measured, standstill_s)


def verdicts(found: BenchRating) -> dict[str, str]:
    return {one.about.rpartition(", ")[2]: str(one.verdict) for one in found.judgements}


@pytest.mark.parametrize(
    ("longest", "verdict"),
    [(2.0, "pass"), (5 / math.log(400 / 60), "pass"), (5.001 / math.log(400 / 60), "inconclusive")],
)
def test_the_slow_end_of_the_band_decides(longest, verdict) -> None:
    """tau ln(400/60) = 1.897 tau (elementary); 60 V within 5 s: IEC 60204-1:2016, 6.2.4."""
    found = judged(fitted(longest, 1.9), **LOG_ONLY)
    assert verdicts(found) == {"as measured": verdict}


def test_a_band_wholly_too_slow_fails() -> None:
    assert judged(fitted(2.9, 2.7), **LOG_ONLY).verdict is Verdict.FAIL


def test_time_and_rest_are_printed_from_the_highest_voltage_not_from_that_of_the_log() -> None:
    """2 s * ln(400/60) = 3.794 s; 400 V * exp(-5/2) = 32.8 V are left."""
    steps = {step.title: step.result for step in judged(fitted(2.0), **LOG_ONLY).steps}
    assert steps["bus as measured: longest time until it is harmless"] == pytest.approx(3.794, abs=1e-3)
    left = "bus as measured: voltage left at the limit, by its own discharge alone"
    assert steps[left] == pytest.approx(32.83, abs=0.01)


@pytest.mark.parametrize(
    ("ohm", "longest", "expected"),
    [
        (1000, 2.0, {"as stated": "pass", "as measured": "pass"}),
        (1000, 2.9, {"as stated": "pass", "as measured": "fail"}),  # aged: the data sheet no longer holds
        (1500, 2.0, {"as stated": "fail", "as measured": "pass"}),  # one cool specimen mends no data sheet
    ],
)
def test_stated_and_measured_are_judged_apart_and_the_worse_counts(ohm, longest, expected) -> None:
    found = judged(fitted(longest, longest - 0.01), bleeder_ohm=ohm)
    assert verdicts(found) == expected
    assert (found.verdict is Verdict.PASS) == (set(expected.values()) == {"pass"})


def test_neither_stated_nor_measured_is_not_observed() -> None:
    found = judged(None, **LOG_ONLY)
    assert found.verdict is Verdict.NOT_OBSERVED
    assert "give the log of an emergency stop" in found.judgements[0].sentence


@pytest.mark.parametrize(
    ("low", "high", "verdict"), [(30, 390, "pass"), (100, 390, "pass"), (30, 150, "inconclusive")]
)
def test_most_of_the_way_must_have_been_recorded(low, high, verdict) -> None:
    """150 V down is less than half of ln(400/60); 390 to 100 V is more."""
    found = judged(fitted(2.0, low=low, high=high), **LOG_ONLY)
    assert verdicts(found) == {"as measured": verdict}


# no fit: what was seen, and the bleeder as stated above it


def test_what_was_seen_is_reckoned_up_to_the_highest_voltage() -> None:
    """2.5 s from 315 V seen; 2 s * ln(400/315) = 0.478 s more."""
    found = judged(seen((315, 2.4, 2.5)))
    assert verdicts(found)["as measured"] == "pass"
    (step,) = [step for step in found.steps if "discharge 1" in step.title]
    assert step.result == pytest.approx(2.978, abs=1e-3)


@pytest.mark.parametrize(
    ("latest", "verdict"), [(4.5, "pass"), (4.522, "pass"), (4.523, "inconclusive"), (6.0, "inconclusive")]
)
def test_its_upper_bound_decides(latest, verdict) -> None:
    """5 s - 0.4778 s = 4.5222 s may have been seen at most."""
    assert verdicts(judged(seen((315, 2.4, latest))))["as measured"] == verdict


def test_seen_to_take_too_long_fails_from_whatever_voltage() -> None:
    assert verdicts(judged(seen((200, 5.01, 5.2))))["as measured"] == "fail"


@pytest.mark.parametrize(
    ("soonest", "verdict"), [(5.01, "fail"), (5.0, "inconclusive"), (0.3, "inconclusive")]
)
@pytest.mark.parametrize("stated", [{}, LOG_ONLY])
def test_a_bus_seen_live_for_longer_than_allowed_fails_though_its_end_was_not_seen(
    soonest, verdict, stated
) -> None:
    found = judged(seen((390, soonest, None)), **stated)
    assert verdicts(found)["as measured"] == verdict


def test_one_discharge_without_its_end_leaves_the_good_one_of_the_same_log_open() -> None:
    assert verdicts(judged(seen((390, 2.4, 2.5), (390, 1.0, None))))["as measured"] == "inconclusive"


def test_of_several_the_slowest_counts() -> None:
    assert verdicts(judged(seen((315, 2.4, 2.5), (380, 2.4, 4.95))))["as measured"] == "inconclusive"


def test_without_a_stated_bleeder_nothing_is_reckoned_up() -> None:
    found = judged(seen((399, 2.4, 2.5)), **LOG_ONLY)
    assert found.verdict is Verdict.INCONCLUSIVE
    assert "State the bleeder's" in found.judgements[0].sentence


def test_a_discharge_from_a_low_voltage_shows_too_little() -> None:
    found = judged(seen((120, 0.9, 1.0)))
    assert verdicts(found)["as measured"] == "inconclusive"
    assert "% of that was not seen" in found.judgements[1].sentence


def test_a_log_that_shows_none_whole_leaves_it_open() -> None:
    found = judged(MeasuredFall(None, (), "log", "evidence of the voltage is missing"))
    assert verdicts(found) == {"as stated": "pass", "as measured": "inconclusive"}
    assert "evidence of the voltage is missing" in found.judgements[1].sentence


# a unit that the other one turns keeps the bus live


def test_the_measured_stop_bounds_the_coast_down_where_none_is_stated() -> None:
    """94.2 V until 3 s at most, then 2 s * ln(94.2/60) = 0.903 s: 3.9 s, within 5 s; after a stop of 4.2 s not."""
    assert judged(None, None, **SLOW_UNIT).verdict is Verdict.INCONCLUSIVE
    found = judged(None, 3.0, **SLOW_UNIT)
    assert found.verdict is Verdict.PASS
    assert any(step.title == "bus: until no unit feeds it, at most" for step in found.steps)
    assert judged(None, 4.2, **SLOW_UNIT).verdict is Verdict.INCONCLUSIVE


def test_a_stated_coast_down_goes_before_the_measured_stop() -> None:
    assert judged(None, 3.0, slow_enough_s=[6, 7], **SLOW_UNIT).verdict is Verdict.FAIL


def test_back_emf_counts_for_what_was_seen_as_well() -> None:
    assert verdicts(judged(seen((390, 2.4, 2.5)), 3.0, **SLOW_UNIT))["as measured"] == "pass"
    assert verdicts(judged(seen((390, 2.4, 2.5)), 4.2, **SLOW_UNIT))["as measured"] == "inconclusive"


@pytest.mark.parametrize(
    ("stops", "verdict"),
    [
        ({"cover_stop": 3.0}, "pass"),
        ({"cover_stop": 3.0, "other": 9.0}, "pass"),
        ({"other": 3.0}, "inconclusive"),  # of another function: it may brake where this one coasts
        (None, "inconclusive"),
    ],
)
def test_only_stops_of_functions_that_discharge_the_bus_count(stops, verdict) -> None:
    section = changed(COVER_STOP) | {"discharge": changed(BUS, **SLOW_UNIT)}
    result = rate(
        read_rating(section),
        supported_categories=PROVEN,
        chain=COVERED,
        bus=ASKED,
        bus_fall=fitted(2.0),
        stop_time_upper_s=stops,
    )
    assert result.others[-1].verdict == verdict


# laws

LIMITS = Limits(400, 400, 0, None, 5.0, 60)
times = st.floats(0.01, 20)


@given(times, times, st.floats(60, 400), st.floats(0.01, 5))
def test_a_later_end_never_improves_it(first, second, from_v, tau) -> None:
    rank = [Verdict.PASS, Verdict.INCONCLUSIVE, Verdict.FAIL]
    early, late = sorted((first, second))
    better, worse = (judge_seen(seen((from_v, 0.0, one)), tau, LIMITS, Trail())[0] for one in (early, late))
    assert rank.index(better) <= rank.index(worse)


@given(st.floats(1, 500), st.floats(1, 500))
def test_the_unseen_share_is_a_share(low, high) -> None:
    assert 0 <= unseen_share(LIMITS, min(low, high), max(low, high)) <= 1


@given(times, st.floats(60, 400))
def test_what_falls_by_one_exponential_is_judged_alike_with_and_without_its_fit(tau, from_v) -> None:
    """A differential check: seen from some voltage and reckoned up by the same time constant, or by the fit alone."""
    latest = tau * math.log(from_v / 60)
    _, text = judge_seen(seen((from_v, 0.0, latest)), tau, LIMITS, Trail())
    trail = Trail()
    judge_seen(seen((from_v, 0.0, latest)), tau, LIMITS, trail)
    assert trail.steps[-1].result == pytest.approx(tau * math.log(400 / 60), rel=1e-9, abs=1e-9)
    assert "5 s are allowed" in text


def with_chain(measured: MeasuredFall, chain_s: float, **changes: Any) -> BenchRating:
    given = read_rating(changed(COVER_STOP) | {"discharge": changed(BUS, **changes)}).discharge
    assert given is not None
    return judge_bus(given, replace(ASKED, chain_s=chain_s), measured)


@pytest.mark.parametrize(("chain_s", "verdict"), [(0.0, "pass"), (0.09, "pass"), (0.11, "inconclusive")])
def test_the_stated_measuring_chain_counts_against_what_was_measured(chain_s, verdict) -> None:
    """4.9 s by the slow end of the band, 5 s allowed; what is only stated is not measured, and stays as it is."""
    found = with_chain(fitted(4.9 / math.log(400 / 60), 1.9), chain_s)
    assert verdicts(found) == {"as stated": "pass", "as measured": verdict}
    said = found.judgements[-1].sentence
    assert ("with the stated uncertainty of the measuring chain" in said) is (verdict == "inconclusive")


@pytest.mark.parametrize(("chain_s", "verdict"), [(0.0, Verdict.PASS), (0.2, Verdict.INCONCLUSIVE)])
def test_it_counts_against_a_time_that_was_seen_without_a_fit(chain_s, verdict) -> None:
    asked = Limits(400, 400, 0, None, 5.0, 60.0, chain_s)
    found, said = judge_seen(seen((400, 4.7, 4.9)), 2.0, asked, Trail())
    assert found is verdict
    assert ("measuring chain (0.2 s)" in said) is (chain_s > 0)


@given(st.floats(1.5, 3.0), st.floats(0, 1))
def test_a_longer_chain_never_makes_it_better(longest, chain_s) -> None:
    worse = {"pass": 0, "inconclusive": 1, "fail": 2}
    plain, chained = (verdicts(with_chain(fitted(longest), one))["as measured"] for one in (0.0, chain_s))
    assert worse[chained] >= worse[plain]
