"""Benches that only faults show to be wrong: the right function is lost by the right faults, by the shortest acts."""

from functools import cache
from typing import Any

import pytest
import yaml
from chain_benches import BENCHES, patched
from chain_fault_benches import only
from chain_fault_naive import FaultJudge

from interlock.bench import Bench, load_bench
from interlock.chain import CheckResult, FaultResult, check
from interlock.verdict import Verdict

WRONG = BENCHES / "wrong_under_fault"
EXPECTED: dict[str, Any] = yaml.safe_load((WRONG / "expected.yaml").read_text("utf-8"))
NAMES = sorted(EXPECTED)
TOLERANT = "single_fault_tolerant"


@cache
def bench(name: str) -> Bench:
    return load_bench(WRONG / name)


@cache
def checked(name: str) -> CheckResult:
    return check(bench(name), faults=2)


@cache
def mended(name: str) -> CheckResult:
    return check(patched(WRONG / name, EXPECTED[name]["mend"]), faults=2)


def of_set(result: CheckResult, wanted: list[str]) -> list[FaultResult]:
    assert result.report is not None
    return [one for one in result.report.faults if list(one.set) == wanted]


def steps(one: FaultResult) -> int:
    return sum(not act.words.startswith("from power-up on") for act in one.acts)


def test_each_wrong_bench_is_expected_and_nothing_else() -> None:
    assert sorted(path.name for path in WRONG.glob("[0-9]*.yaml")) == NAMES
    assert len(NAMES) >= 12


@pytest.mark.parametrize("name", NAMES)
def test_without_faults_nothing_is_wrong(name: str) -> None:
    wrong = [
        one.sentence
        for one in checked(name).properties
        if one.verdict is not Verdict.PASS and one.id != TOLERANT
    ]
    assert wrong == []


@pytest.mark.parametrize("name", NAMES)
def test_the_right_faults_lose_the_right_function(name: str) -> None:
    expected = EXPECTED[name]["first"]
    [one] = of_set(checked(name), expected["set"])
    assert steps(one) == expected["steps"]
    assert one.detected is expected["detected"]
    if expected["function"] is None:
        assert list(one.restarts) == expected["restarts"]
        assert one.lost == ()
    else:
        assert expected["function"] in one.lost
        assert one.minimal


@pytest.mark.parametrize("name", NAMES)
def test_a_single_fault_that_loses_a_tolerant_function_fails_the_check(name: str) -> None:
    expected, result = EXPECTED[name]["first"], checked(name)
    failed = {one.function for one in result.properties if one.id == TOLERANT and one.verdict is Verdict.FAIL}
    alone = len(expected["set"]) == 1 and expected["function"] is not None
    assert (expected["function"] in failed) is alone
    assert (result.verdict is Verdict.FAIL) is alone


@pytest.mark.parametrize("name", [name for name in NAMES if EXPECTED[name]["first"]["function"]])
def test_no_other_acts_get_there_sooner(name: str) -> None:
    expected = EXPECTED[name]["first"]
    judge = FaultJudge(only(bench(name), *expected["set"]), len(expected["set"]))
    all_of_them = frozenset(expected["set"])
    soonest = {function: n for (one, function, _), n in judge.soonest().items() if one == all_of_them}
    assert soonest[expected["function"]] == min(soonest.values()) == expected["steps"]


@pytest.mark.parametrize("name", NAMES)
def test_mended_the_bench_passes_and_the_faults_show_in_time(name: str) -> None:
    expected, result = EXPECTED[name]["first"], mended(name)
    assert [one.sentence for one in result.properties if one.verdict is not Verdict.PASS] == []
    for one in of_set(result, expected["set"]):
        assert one.restarts == ()
        assert one.lost == () or one.detected


@pytest.mark.parametrize("name", NAMES)
def test_the_mistake_is_told_in_the_file(name: str) -> None:
    assert (WRONG / name).read_text("utf-8").startswith("# The mistake: ")
