"""Benches wired wrongly, one mistake each: the right property fails first, by the shortest acts; mended, all pass."""

from typing import Any

import pytest
from chain_benches import EXPECTED, UNDER_FAULT, WRONG, calm, checked, patched, sample, wrong
from chain_machines import MachineBench
from chain_naive import Judge, World
from chain_naive_rules import soonest, soonest_of_all

from interlock.bench import Bench
from interlock.chain import CheckResult, PropertyResult, check
from interlock.chain.words import Act
from interlock.verdict import Verdict

NAMES = sorted(EXPECTED)
FAST = [name for name in NAMES if "fast acts" in EXPECTED[name].get("only", [])]


def failures(result: CheckResult) -> list[PropertyResult]:
    return [one for one in result.properties if one.verdict is Verdict.FAIL]


def test_each_wrong_bench_is_expected_and_nothing_else() -> None:
    assert sorted(path.name for path in WRONG.rglob("*")) == sorted([*NAMES, *UNDER_FAULT])
    assert len(NAMES) >= 30


@pytest.mark.parametrize("name", NAMES)
def test_the_right_property_fails_first_after_so_many_steps(name: str) -> None:
    result = checked(name)
    first = failures(result)[0]
    expected: dict[str, Any] = EXPECTED[name]["first"]
    found = {"id": first.id, "function": first.function, "subject": first.subject, "steps": len(first.acts)}
    assert found == expected
    assert result.verdict is Verdict.FAIL


@pytest.mark.parametrize("name", NAMES)
def test_no_other_acts_get_there_sooner(name: str) -> None:
    bench, expected = wrong(name), EXPECTED[name]["first"]
    judge = Judge(World(bench))
    steps = soonest_of_all(judge, expected["id"], expected["function"], expected["subject"])
    assert steps == expected["steps"]


@pytest.mark.parametrize("name", NAMES)
def test_mended_the_bench_passes(name: str) -> None:
    result = check(patched(WRONG / name, EXPECTED[name]["mend"]))
    assert [one.sentence for one in result.properties if one.verdict is not Verdict.PASS] == []


@pytest.mark.parametrize("name", FAST)
def test_with_slow_acts_nothing_is_wrong(name: str) -> None:
    failed = failures(check(calm(wrong(name))))
    waiting = {"recovers", "reset_restores"}  # who must wait for what he asked for may have to reset
    hasty = [
        one for one in failed if any(map(is_wait, one.acts))
    ]  # somebody acts just before another one ends
    assert [one.sentence for one in failed if one.id not in waiting and one not in hasty] == []
    expected = EXPECTED[name]["first"]
    judge = Judge(World(calm(wrong(name))))
    assert soonest(judge, expected["id"], expected["function"], expected["subject"]) is None


@pytest.mark.parametrize("name", [name for name in NAMES if name not in FAST])
def test_the_others_are_wrong_even_with_slow_acts(name: str) -> None:
    assert check(calm(wrong(name))).verdict is Verdict.FAIL


@pytest.mark.parametrize("name", NAMES)
def test_every_counterexample_can_be_walked_with_the_declared_machines(name: str) -> None:
    bench = wrong(name)
    for one in failures(checked(name)):
        other = Judge(World(bench)).parted if any(map(is_wait, one.acts)) else None
        walk(bench if other is None else other.bench, one)


def is_wait(act: Act) -> bool:
    return act.words.startswith("wait as long as it takes to ")


def walk(bench: Bench, one: PropertyResult) -> None:
    """Each act is possible in turn, and leaves every device in the state told."""
    machines = MachineBench(bench)
    for act in one.acts:
        ways = [(device, trigger) for device, trigger in machines.possible() if device == act.device]
        before = machines.state
        for way in ways:
            machines.put(before)
            machines.fire(*way)
            if as_told(machines.state) == act.after and not (is_wait(act) and machines.state == before):
                break
        assert as_told(machines.state) == act.after, act.words


def as_told(state: dict[str, str]) -> dict[str, str]:
    """A device that goes on long enough to end an act is told in the state that it is in."""
    return {device: one.split()[0] for device, one in state.items()}


def test_between_them_they_break_every_property() -> None:
    every = {one.id for one in check(sample()).properties}
    assert {EXPECTED[name]["first"]["id"] for name in NAMES} >= every


@pytest.mark.parametrize("name", NAMES)
def test_the_mistake_is_told_in_the_file(name: str) -> None:
    assert (WRONG / name).read_text("utf-8").startswith("# The mistake: ")


@pytest.mark.parametrize("name", NAMES)
def test_a_failure_is_told_whole(name: str) -> None:
    for one in failures(checked(name)):
        assert "{" not in one.sentence
        assert one.sentence.endswith(".")
        assert all(act.words and "{" not in act.words for act in one.acts)
