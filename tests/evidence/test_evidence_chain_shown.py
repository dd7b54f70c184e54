"""What the chain shows for a rating: a lock that holds until standstill, and which faults the derived test finds."""

from dataclasses import fields
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from interlock.bench import Bench, load_bench
from interlock.bench.yaml_source import read_yaml
from interlock.chain.fault_check import judge_faults
from interlock.chain.fault_result import FaultReport, FaultResult, FaultSearch
from interlock.demo.walk import BENCH_FILE
from interlock.errors import BenchError, InterlockError
from interlock.evidence import chain_shown
from interlock.evidence.chain_shown import chain_facts, refuse_strange_faults
from interlock.procedure import derive
from interlock.rating.chain_facts import ChainFacts, Lock
from interlock.rating.inputs import RatingInputs, RequiredLevel
from interlock.rating.rate import rate
from interlock.verdict import Verdict

SHAPES = Path(__file__).parents[1] / "benches" / "shapes"
NOTHING = FaultReport(FaultSearch(1, 1, 1, True, ""), (), (), ())
AT_STANDSTILL = {"distance_mm": 400, "approach_speed_mm_s": 1600, "intrusion_mm": 0, "unlock": "standstill"}


def section(function: str, guard: dict[str, Any] | None = None, **more: Any) -> RatingInputs:
    return RatingInputs.model_validate(
        {
            "edition": 2015,
            "functions": {
                function: {
                    "required": {"pl": "c"},
                    "guard": guard,
                    "subsystems": {"all": {"pl": "e", "source": "s", "devices": []}},
                }
            },
            **more,
        }
    )


def facts(bench: Bench, inputs: RatingInputs, report: FaultReport = NOTHING) -> ChainFacts:
    return chain_facts(bench, read_yaml("bench.yaml", "rating: {}\n"), inputs, report)


def shape(tmp_path: Path, name: str, *changes: tuple[str, str]) -> Bench:
    text = (SHAPES / f"{name}.yaml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "bench.yaml"
    path.write_text(text, encoding="utf-8")
    return load_bench(path)


# guard locking


def lock(bench: Bench, function: str = "guard_stop", report: FaultReport = NOTHING) -> Lock:
    return facts(bench, section(function, AT_STANDSTILL), report).locked[function]


def test_a_lock_freed_by_the_standstill_monitor_holds(tmp_path) -> None:
    """ISO 14119:2013, 4.3 and 5.7 (from memory): locked until the hazard is over."""
    verdict, why, *_ = lock(shape(tmp_path, "guard_locking"))
    assert verdict is Verdict.PASS
    assert why


def test_a_lock_that_is_never_held_back_does_not(tmp_path) -> None:
    verdict, why, *_ = lock(
        shape(tmp_path, "guard_locking", ("guard.permit: shaft.still", "guard.permit: always"))
    )
    assert verdict is Verdict.FAIL
    assert "turns" in why


def test_a_lock_freed_when_the_torque_is_gone_does_not(tmp_path) -> None:
    """Without torque is not at rest: the shaft coasts on."""
    bench = shape(tmp_path, "guard_locking", ("guard.permit: shaft.still", "guard.permit: not pump.torque"))
    assert lock(bench)[0] is Verdict.FAIL


def test_a_function_that_does_not_end_the_motion_shows_nothing_of_standstill(tmp_path) -> None:
    """Then the property of the chain is about torque alone, and a lock that waits for that is no such lock."""
    bench = shape(
        tmp_path,
        "guard_locking",
        (
            "      demand: guard\n      stop_category: 0\n      effects: [torque_off, standstill]",
            "      demand: guard\n      stop_category: 0\n      effects: [torque_off]",
        ),
    )
    verdict, why, *_ = lock(bench)
    assert verdict is Verdict.NOT_OBSERVED
    assert "only waits for the torque to go" in why


def test_a_guard_without_a_lock_is_not_locked() -> None:
    verdict, why, *_ = lock(load_bench(BENCH_FILE), "hood_stop")
    assert verdict is Verdict.NOT_OBSERVED
    assert "no device of the chain locks this guard" in why


@pytest.mark.parametrize(
    ("name", "verdict"),
    [
        ("guard_locking", Verdict.PASS),
        ("lock_freed_on_request", Verdict.PASS),
        ("guard_bolt", Verdict.NOT_OBSERVED),
        ("lock_freed_by_a_timer", Verdict.NOT_OBSERVED),
        ("lock_freed_by_a_relay", Verdict.NOT_OBSERVED),
    ],
)
def test_a_lock_that_only_waits_for_a_time_is_none_until_standstill(tmp_path, name, verdict) -> None:
    """The chain holds all five by the stated run-down; whether the shaft keeps to that, no chain knows."""
    bench = shape(tmp_path, name)
    by_chain = [
        one.verdict for one in chain_shown.check(bench).properties if one.id == "locked_until_standstill"
    ]
    assert by_chain == [Verdict.PASS]
    found = lock(bench)
    assert found.verdict is verdict
    assert ("write unlock: delay" in found.why) == (verdict is Verdict.NOT_OBSERVED)


AFTER_A_TIME = {**AT_STANDSTILL, "unlock": "delay", "unlock_delay_s": 10.0}


def after_a_time(bench: Bench, report: FaultReport = NOTHING) -> Lock | None:
    return facts(bench, section("guard_stop", AFTER_A_TIME), report).locked.get("guard_stop")


@pytest.mark.parametrize(
    ("name", "change", "verdict", "takes_s"),
    [
        ("guard_bolt", (), Verdict.PASS, 10.0),  # the built-in bolt
        ("guard_bolt", (("coast_down: 6 s", "coast_down: 12 s"),), Verdict.FAIL, 10.0),
        ("lock_freed_by_a_timer", (), Verdict.PASS, 15.0),
        ("lock_freed_by_a_timer", (("takes: 15 s", "takes: 6 s"),), Verdict.FAIL, 6.0),
        ("guard_locking", (), Verdict.PASS, None),  # a monitor frees it, no person waits
        ("guard_locking", (("guard.permit: shaft.still", "guard.permit: always"),), Verdict.FAIL, None),
    ],
)
def test_a_lock_freed_after_a_time_is_told_with_that_time(tmp_path, name, change, verdict, takes_s) -> None:
    """Each shape beside its wrong twin: the shaft coasts longer than the guard is held (ISO 14119, from memory)."""
    found = after_a_time(shape(tmp_path, name, *change))
    assert found is not None
    assert (found.verdict, found.takes_s) == (verdict, takes_s)


def test_of_a_bolt_that_the_chain_knows_nothing_of_it_says_nothing() -> None:
    inputs = section("hood_stop", AFTER_A_TIME)
    assert facts(load_bench(BENCH_FILE), inputs).locked == {}


@pytest.mark.parametrize(("required", "verdict"), [("c", "pass"), ("d", "inconclusive")])
def test_faults_that_free_it_count_as_for_a_lock_at_standstill(tmp_path, required, verdict) -> None:
    bench = shape(tmp_path, "guard_bolt")
    timed = {"times_s": [12.0, 11.0, 11.5], "uncertain_s": 0.5, "day": "2026-02-01", "how": "stopwatch"}
    entry = {**AFTER_A_TIME, "unlock_timed": timed}
    inputs = section("guard_stop", entry)
    asked = inputs.functions["guard_stop"].model_copy(update={"required": RequiredLevel(pl=required)})
    inputs = inputs.model_copy(update={"functions": {"guard_stop": asked}})
    found = facts(bench, inputs, judge_faults(bench, 1))
    (function,) = rate(inputs, chain=found, stop_time_upper_s=9.0, today=date(2026, 3, 1)).functions
    (judged,) = (one for one in function.judgements if one.about == "unlock delay")
    assert found.locked["guard_stop"].freed_by  # the bolt's contacts do not follow it
    assert judged.verdict == verdict


@pytest.mark.parametrize("unlock", [None, {**AT_STANDSTILL, "unlock": "none"}])
def test_the_chain_is_explored_only_where_the_section_asks_for_it(monkeypatch, unlock) -> None:
    monkeypatch.setattr(chain_shown, "check", lambda _bench: pytest.fail("explored for nothing"))
    assert facts(load_bench(BENCH_FILE), section("hood_stop", unlock)).locked == {}


@pytest.mark.parametrize(("permit", "verdict"), [("shaft.still", Verdict.PASS), ("always", Verdict.FAIL)])
def test_the_guard_is_judged_by_it(tmp_path, permit, verdict) -> None:
    bench = shape(tmp_path, "guard_locking", ("guard.permit: shaft.still", f"guard.permit: {permit}"))
    inputs = section("guard_stop", AT_STANDSTILL)
    (function,) = rate(inputs, chain=facts(bench, inputs)).functions
    (judged,) = (one for one in function.judgements if one.about == "guard locking")
    assert judged.verdict is verdict


@pytest.mark.parametrize(("required", "verdict"), [("c", Verdict.PASS), ("d", Verdict.INCONCLUSIVE)])
def test_single_faults_that_free_the_guard_are_told_and_count_from_level_d_on(
    tmp_path, required, verdict
) -> None:
    """By the search under faults: a bolt that breaks, a standstill monitor that always says still (ISO 14119)."""
    bench = shape(tmp_path, "guard_locking")
    report, inputs = judge_faults(bench, 1), section("guard_stop", AT_STANDSTILL)
    assert lock(bench, report=report).verdict is Verdict.PASS
    assert len(lock(bench, report=report).freed_by) == 3
    asked = inputs.functions["guard_stop"].model_copy(update={"required": RequiredLevel(pl=required)})
    chain, inputs = (
        facts(bench, inputs, report),
        inputs.model_copy(update={"functions": {"guard_stop": asked}}),
    )
    (function,) = rate(inputs, chain=chain).functions
    (judged,) = (one for one in function.judgements if one.about == "guard locking")
    assert judged.verdict is verdict
    assert "One fault may free it all the same" in judged.sentence


# the derived proof test

ELEMENT = {
    "devices": ["contactor"],
    "architecture": "1oo1",
    "lambda_du_per_h": 1e-7,
    "proof_test_h": 8760,
    "proof_test_coverage": 0.9,
    "lifetime_h": 87600,
    "mttr_h": 8,
    "source": "s",
}


def low(**more: Any) -> dict[str, Any]:
    return {
        "emergency_stop": {"required_sil": 1, "demands_per_year": 1, "elements": {"c": {**ELEMENT, **more}}}
    }


@cache
def demo_facts() -> ChainFacts:
    return facts(load_bench(BENCH_FILE), section("emergency_stop", low_demand=low()))


def test_every_fault_of_the_plan_is_told_as_shown_or_not() -> None:
    """Against the plan itself: shown are those of its steps, in the dark those that it lists."""
    plan, revealed = derive(load_bench(BENCH_FILE)), demo_facts().revealed
    assert revealed is not None
    assert {one for one, shown in revealed.items() if shown} == {
        one for step in plan.steps for one in step.reveals
    }
    assert {one for one, shown in revealed.items() if not shown} == {one.fault for one in plan.unrevealed}


@pytest.mark.parametrize(
    ("fault", "shown"),
    [("contactor.welds", True), ("contactor.mirror_stays_open", False), ("hood.a_stays_closed", True)],
)
def test_some_of_them(fault, shown) -> None:
    """A welded contactor shows when the emergency stop does not open it; nobody sees its mirror contact here."""
    revealed = demo_facts().revealed
    assert revealed is not None
    assert revealed[fault] is shown


def test_excluded_faults_are_no_part_of_it() -> None:
    revealed = demo_facts().revealed
    assert revealed is not None
    assert "hood.does_not_follow" not in revealed


def test_no_plan_is_derived_where_nothing_is_rated_in_low_demand(monkeypatch) -> None:
    monkeypatch.setattr(chain_shown, "derive", lambda _bench: pytest.fail("derived for nothing"))
    found = facts(load_bench(BENCH_FILE), section("hood_stop"))
    assert (found.revealed, found.not_derived) == (None, "no function is rated in low demand")


def test_a_bench_too_big_for_a_plan_is_told_and_not_believed(monkeypatch) -> None:
    def too_big(_bench):
        raise InterlockError("bench 'cell_4': too many states; no procedure can be derived")

    monkeypatch.setattr(chain_shown, "derive", too_big)
    inputs = section("emergency_stop", low_demand=low())
    found = facts(load_bench(BENCH_FILE), inputs)
    assert found.revealed is None
    (rated,) = rate(inputs, chain=found).others
    assert rated.verdict is not Verdict.PASS


def test_a_mistake_of_the_bench_is_no_missing_plan(monkeypatch) -> None:
    def wrong(_bench):
        raise BenchError([])

    monkeypatch.setattr(chain_shown, "derive", wrong)
    with pytest.raises(BenchError):
        facts(load_bench(BENCH_FILE), section("emergency_stop", low_demand=low()))


def test_shares_of_a_fault_that_the_bench_does_not_have_are_an_error() -> None:
    inputs = section("emergency_stop", low_demand=low(fault_shares={"contactor.wlds": 0.9}))
    with pytest.raises(BenchError, match=r"'contactor\.wlds': no such fault is considered") as error:
        refuse_strange_faults(load_bench(BENCH_FILE), read_yaml("bench.yaml", "rating: {}\n"), inputs)
    assert "contactor.welds" in error.value.problems[0].instead


# single faults of the search


def single(fault: str, *effects: tuple[str, str]) -> FaultResult:
    """One fault and the effects that it loses; of the rest nothing is asked."""
    given: dict[str, Any] = dict.fromkeys((one.name for one in fields(FaultResult)), ())
    return FaultResult(**{**given, "set": (fault,), "effects": effects})


def test_single_faults_that_lose_the_effect_bring_their_device_in() -> None:
    report = FaultReport(
        NOTHING.search,
        (
            single("link.discharge_lost", ("hood_stop", "torque_off")),
            single("reset.stays_pressed", ("x", "y")),
        ),
        (),
        (),
    )
    (reason,) = facts(load_bench(BENCH_FILE), section("hood_stop"), report).unrated["hood_stop"]
    assert "DC link (link)" in reason
    assert "reset" not in reason
    assert "loom" not in reason


# guards in series


@pytest.mark.parametrize(("bench", "guards"), [("three_doors", 3), ("two_zones", 0)])
def test_guards_in_series_lower_what_may_be_claimed(tmp_path, bench, guards) -> None:
    """Three doors of which nothing is said count as opened hourly: no coverage at all (ISO/TR 24119, Table 1)."""
    found = shape(tmp_path, bench)
    masked = facts(found, section(next(iter(found.required.functions)))).masked
    assert len(masked) == guards
    assert {dc for dc, _ in masked.values()} <= {"none"}
