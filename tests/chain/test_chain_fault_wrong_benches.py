"""Benches that only faults show to be wrong: the right requirement fails first, by the right faults and shortest acts.

Some need fast acts as well; where every act waits until nothing is due any more, these pass.
"""

from functools import cache
from typing import Any

import pytest
from chain_benches import EXPECTED, UNDER_FAULT, WRONG, calm, patched, wrong
from chain_fault_benches import only
from chain_fault_naive import FaultJudge
from chain_fault_naive_rules import RuleFaultJudge

from interlock.bench import Bench
from interlock.chain import CheckResult, FaultResult, PropertyResult, check
from interlock.chain.losses import Rule
from interlock.verdict import Verdict

NAMES = sorted(UNDER_FAULT)
RULES = {"braking", "idle_in_mode", "power_removed"}
FAST = [name for name in NAMES if "fast acts" in UNDER_FAULT[name]["only"]]
TOLERANT = {
    "single_fault_tolerant",
    "accumulation_tolerant",
    "start_by_person_under_fault",
    "clearing_never_starts",
    "braking_under_fault",
    "idle_in_mode_under_fault",
    "power_removed_under_fault",
}
RULED = [name for name in NAMES if UNDER_FAULT[name]["first"]["id"].removesuffix("_under_fault") in RULES]
PLAIN = [name for name in NAMES if name not in RULED]
KEYS = ("id", "function", "subject")


@cache
def checked(name: str) -> CheckResult:
    """As many faults as the bench itself asks for: what a plain `interlock check` does."""
    return check(wrong(name))


def first(name: str) -> dict[str, Any]:
    expected: dict[str, Any] = UNDER_FAULT[name]["first"]
    return expected


def failure(name: str) -> PropertyResult:
    return next(one for one in checked(name).properties if one.verdict is Verdict.FAIL)


def told(name: str) -> FaultResult:
    report = checked(name).report
    assert report is not None
    [one] = [one for one in report.faults if list(one.set) == first(name)["set"]]
    return one


def steps(one: PropertyResult) -> int:
    """Without the faults that are there from power-up on."""
    return sum(not act.words.startswith("from power-up on") for act in one.acts)


def rule_of(name: str) -> Rule:
    """The rule that the bench breaks under a fault."""
    expected, required = first(name), wrong(name).required
    modes = () if required.modes is None else required.modes.each
    idle = (mode for mode in modes if expected["subject"] in required.idle_in(mode))
    id_ = expected["id"].removesuffix("_under_fault")
    return Rule(id_, expected["function"] or next(idle), expected["subject"])


def small(name: str) -> Bench:
    """The bench without any fault but those that are expected."""
    return only(wrong(name), *first(name)["set"])


@pytest.mark.parametrize("name", NAMES)
def test_the_right_requirement_fails_first_by_the_shortest_acts(name: str) -> None:
    found, expected = failure(name), first(name)
    assert [getattr(found, key) for key in KEYS] == [expected[key] for key in KEYS]
    assert steps(found) == expected["steps"]
    assert checked(name).verdict is Verdict.FAIL


@pytest.mark.parametrize("name", PLAIN)
def test_the_right_faults_are_the_reason(name: str) -> None:
    one, expected = told(name), first(name)
    [example] = [way for way in one.examples if way.of == (expected["function"] or expected["subject"])]
    assert (example.steps, one.detected) == (expected["steps"], expected["detected"])
    assert list(one.restarts) == expected.get("restarts", [])
    if expected["function"] is None:
        assert one.lost == ()
    else:
        assert expected["function"] in one.lost
        assert one.minimal


@pytest.mark.parametrize("name", RULED)
def test_the_right_faults_break_the_rule_and_no_function(name: str) -> None:
    """Torque goes at every demand, so that nothing else than the rule is lost, and no unit starts unasked."""
    one, expected, rule = told(name), first(name), rule_of(name)
    [example] = [way for way in one.examples if way.of == rule.key]
    assert (example.steps, one.detected, one.minimal) == (expected["steps"], expected["detected"], True)
    assert (one.rules, one.lost, one.restarts) == ((rule,), (), ())
    assert one.sentence.startswith("It loses no function. ")


@pytest.mark.parametrize("name", NAMES)
def test_without_faults_nothing_is_wrong(name: str) -> None:
    sound = [one for one in checked(name).properties if one.id not in TOLERANT]
    assert [one.sentence for one in sound if one.verdict is not Verdict.PASS] == []


@pytest.mark.parametrize("name", FAST)
def test_with_slow_acts_nothing_is_wrong_even_under_faults(name: str) -> None:
    expected = first(name)
    found = check(calm(small(name)), faults=len(expected["set"]))
    assert [one.sentence for one in found.properties if one.verdict is not Verdict.PASS] == []


@pytest.mark.parametrize("name", RULED)
def test_no_other_acts_break_the_rule_sooner(name: str) -> None:
    expected, rule = first(name), rule_of(name)
    judge = RuleFaultJudge(small(name), len(expected["set"]))
    found = {what: steps for (faults, what), steps in judge.soonest_broken().items() if faults}
    assert found[rule.id, rule.of, rule.unit] == expected["steps"]
    assert {faults for faults, _ in judge.soonest_broken()} == {frozenset(expected["set"])}


@pytest.mark.parametrize("name", PLAIN)
def test_no_other_acts_get_there_sooner(name: str) -> None:
    expected = first(name)
    judge, faults = FaultJudge(small(name), len(expected["set"])), frozenset(expected["set"])
    if (wanted := expected["function"]) is None:
        assert judge.soonest_start()[faults, expected["subject"]] == expected["steps"]
        return
    soonest = [n for (one, function, _), n in judge.soonest().items() if (one, function) == (faults, wanted)]
    assert min(soonest) == expected["steps"]


@pytest.mark.parametrize("name", NAMES)
def test_mended_the_bench_passes(name: str) -> None:
    result = check(patched(WRONG / name, UNDER_FAULT[name]["mend"]))
    assert [one.sentence for one in result.properties if one.verdict is not Verdict.PASS] == []
    assert result.report is not None


@pytest.mark.parametrize("name", NAMES)
def test_the_mistake_is_told_in_the_file(name: str) -> None:
    assert (WRONG / name).read_text("utf-8").startswith("# The mistake: ")


def test_half_of_all_wrong_benches_need_faults_or_fast_acts() -> None:
    fast = [name for name, one in EXPECTED.items() if "fast acts" in one.get("only", [])]
    assert len(FAST) >= 3
    assert 2 * (len(NAMES) + len(fast)) >= len(NAMES) + len(EXPECTED) >= 60
    assert all("fault" in one["only"] for one in UNDER_FAULT.values())
