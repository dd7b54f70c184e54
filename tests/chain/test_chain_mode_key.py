"""Turning the mode key is no start: what begins to make torque by it has started unasked.

IEC 60204-1:2016, 9.2.3.5 (from memory): selecting a mode shall not by itself start the machine. Invented benches.
"""

from collections.abc import Callable

import pytest
from chain_benches import EXPECTED, UNDER_FAULT, WRONG, patched, wrong
from chain_fault_benches import only
from chain_fault_naive import FaultJudge
from chain_fault_naive_zones import ZonedFaultJudge
from chain_naive import Judge, World
from chain_naive_rules import soonest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from interlock.bench import Bench
from interlock.chain import check
from interlock.chain.compile import compile_bench
from interlock.chain.fault_check import judge_faults
from interlock.chain.requirement import Requirement
from interlock.errors import BenchError
from interlock.verdict import Verdict

SOUND, FAULTY = "86_key_starts_the_motor.yaml", "87_stuck_key_contact_starts_the_motor.yaml"
STUCK = "key.work_a_stays_closed"
RULES = ("mode_change_never_starts", "start_by_person", "reset_never_starts")


def rewired(run: str, change: str = "starts_nothing") -> Bench:
    modes = {"modes": {"change": change}}
    return patched(WRONG / SOUND, {"wiring": {"drive.run": run}, "required": modes})


def failures(bench: Bench) -> dict[str, int]:
    return {one.id: len(one.acts) for one in check(bench, faults=0).properties if one.verdict is Verdict.FAIL}


def plain(bench: Bench) -> dict[str, int]:
    judge, asked = Judge(World(bench)), check(bench, faults=0).properties
    found = {one.id: soonest(judge, one.id, one.function, one.subject) for one in asked}
    return {name: steps for name, steps in found.items() if steps is not None}


@pytest.mark.parametrize(
    ("run", "steps"),
    [
        ("key.setup_a", 4),
        ("key.setup_a and key.setup_b", 4),
        ("not key.work_a", 3),  # it leaves its working position
        ("key.work_a", 4),  # and comes back to it
        ("key.setup_a and key.work_a", None),  # never both
        ("key.setup_a and reset.pressed", 5),  # held meanwhile: the reset is no start either
        ("never", None),
    ],
)
def test_who_turns_the_key_starts_nothing(run: str, steps: int | None) -> None:
    """Both judges, which share no rule, count the same acts; and nothing but the key is to blame."""
    bench = rewired(run)
    found = failures(bench)
    assert found == plain(bench)
    assert found.get("start_by_person") == steps
    assert found.get("mode_change_never_starts") == steps
    [told] = [one for one in check(bench, faults=0).properties if one.id == "mode_change_never_starts"]
    assert [act.device for act in told.acts[-1:]] == ([] if steps is None else ["key"])


@pytest.mark.parametrize("change", ["stops", "starts_nothing"])
def test_the_rule_holds_whether_or_not_a_change_of_mode_stops(change: str) -> None:
    bench = rewired("key.setup_a", change)
    assert failures(bench) == plain(bench)
    assert "mode_change_never_starts" in failures(bench)
    assert failures(rewired("never", change)).keys() == (
        {"mode_change_stops"} if change == "stops" else set()
    )


def test_the_drive_s_own_start_button_is_a_start_in_every_mode() -> None:
    """Right beside wrong: the same bench, started by its button and not by the key, passes."""
    assert failures(rewired("never")) == {}
    result = check(rewired("never"), faults=0)
    assert result.verdict is Verdict.PASS
    [starts] = [one for one in result.properties if one.id == "start_by_person"]
    assert starts.premise[0].acts


def test_the_selector_is_one_of_the_devices_that_mean_no_start() -> None:
    required = Requirement(wrong(SOUND), compile_bench(wrong(SOUND)))
    assert required.not_meant_to_start() == {"halt", "reset", "key"}


@pytest.mark.parametrize("judge", [FaultJudge, ZonedFaultJudge])
def test_under_a_fault_the_act_on_the_key_is_no_start_either(
    judge: Callable[[Bench, int], FaultJudge],
) -> None:
    bench = only(wrong(FAULTY), STUCK)
    expected = {(frozenset({STUCK}), "drive"): UNDER_FAULT[FAULTY]["first"]["steps"]}
    assert judge(bench, 1).soonest_start() == expected
    [one] = judge_faults(bench, 1).faults
    assert (one.restarts, one.steps) == (("drive",), 4)
    assert one.acts[-1].device == "key"


@pytest.mark.parametrize("judge", [FaultJudge, ZonedFaultJudge])
def test_a_judge_that_took_the_key_for_a_start_would_miss_it(
    judge: type[FaultJudge], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the key as a start both find only the fault that comes while the key is turned already, an act later."""
    bench, meant = only(wrong(FAULTY), STUCK), judge.meant
    monkeypatch.setattr(
        judge, "meant", lambda self, actor, after: actor == "key" or meant(self, actor, after)
    )
    assert set(judge(bench, 1).soonest_start().values()) == {5}
    barred = Requirement.not_meant_to_start
    monkeypatch.setattr(Requirement, "not_meant_to_start", lambda self: barred(self) - {"key"})
    [one] = judge_faults(bench, 1).faults
    assert (one.restarts, one.steps, one.acts[-1].who) == (("drive",), 5, "fault")


def test_with_the_key_as_a_start_the_wrong_bench_would_pass_the_rule_of_starts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    barred = Requirement.not_meant_to_start
    monkeypatch.setattr(Requirement, "not_meant_to_start", lambda self: barred(self) - {"key"})
    assert failures(wrong(SOUND)).keys() == {"mode_change_never_starts"}
    assert EXPECTED[SOUND]["first"]["id"] == "mode_change_never_starts"


PORTS = ("key.work_a", "key.work_b", "key.setup_a", "key.setup_b", "reset.pressed", "halt.a", "k1.out_a")


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.sampled_from([*PORTS, *(f"not {one}" for one in PORTS)]), min_size=1, max_size=3),
    st.sampled_from(["and", "or"]),
    st.sampled_from(["stops", "starts_nothing"]),
)
def test_whatever_feeds_the_run_input_both_judges_agree(parts: list[str], join: str, change: str) -> None:
    bench = rewired(f" {join} ".join(parts), change)
    try:
        found = failures(bench)
    except BenchError:
        assume(False)
        return
    expected = plain(bench)
    assert {name: found.get(name) for name in RULES} == {name: expected.get(name) for name in RULES}
