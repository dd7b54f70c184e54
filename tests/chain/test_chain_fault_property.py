"""What a bench file requires to withstand faults: judged from the table of faults, never passed by what is missing."""

from dataclasses import replace
from typing import Any

import pytest
from chain_fault_benches import SMALL, small

from interlock.bench import Bench
from interlock.chain import CategoryResult, Course, FaultReport, FaultResult, FaultSearch, Story, check
from interlock.chain.fault_property import fault_properties, faults_asked
from interlock.chain.fault_result import Example
from interlock.chain.result import PropertyResult
from interlock.verdict import Verdict

STORY = Story((Course("stop", "stop", ("released",)),), ())
WORDS = {"stop.a": "contact a sticks", "stop.b": "contact b sticks", "unit.x": "the unit starts"}


def requiring(*, restart: bool = False, **flags: bool) -> Bench:
    required = SMALL["required"]
    functions = {"halt": {**required["functions"]["halt"], **flags}}
    again = {**required["restart"], "single_fault_tolerant": restart}
    return small(required={**required, "functions": functions, "restart": again})


def fault(*set_: str, steps: int = 3, **changes: Any) -> FaultResult:
    """Faults that do nothing, unless the changes say so; an example for whatever is lost or starts."""
    one = FaultResult(
        set=set_,
        words=tuple(WORDS.get(name, name) for name in set_),
        lost=(),
        effects=(),
        restarts=(),
        detected=False,
        at=None,
        revealed_by=(),
        masked=False,
        minimal=True,
        unnoticed=(),
        verified=True,
        acts=(),
        sentence="",
        steps=steps,
    )
    one = replace(one, **changes)
    examples = tuple(Example(of, steps, (), STORY) for of in (*one.lost, *one.restarts))
    return replace(one, examples=examples)


def report(*faults: FaultResult, most: int = 2, whole: bool = True, carried: str = "B134") -> FaultReport:
    categories = (CategoryResult("halt", None, tuple(carried), ("said",)),)
    return FaultReport(FaultSearch(most, len(faults), 1, whole, "said"), faults, categories, ())


def judged(bench: Bench, found: FaultReport | None) -> PropertyResult:
    [one] = fault_properties(bench, found)
    return one


SINGLE = requiring(single_fault_tolerant=True)
ADDED = requiring(accumulation_tolerant=True)
START = requiring(restart=True)
LOSES = {"lost": ("halt",), "unnoticed": ("halt",)}


@pytest.mark.parametrize(
    ("bench", "asked"),
    [
        (requiring(), 0),
        (SINGLE, 1),
        (START, 1),
        (ADDED, 2),
        (requiring(single_fault_tolerant=True, accumulation_tolerant=True), 2),
    ],
)
def test_as_many_faults_as_the_requirements_need(bench: Bench, asked: int) -> None:
    assert faults_asked(bench) == asked


@pytest.mark.parametrize("bench", [SINGLE, ADDED, START], ids=["single", "added", "start"])
def test_without_a_search_nothing_is_observed(bench: Bench) -> None:
    one = judged(bench, None)
    assert (one.verdict, one.acts, one.story) == (Verdict.NOT_OBSERVED, (), None)


@pytest.mark.parametrize(
    ("bench", "found", "verdict"),
    [
        (SINGLE, report(fault("stop.a")), Verdict.PASS),
        (SINGLE, report(fault("stop.a", lost=("halt",))), Verdict.FAIL),
        (SINGLE, report(fault("stop.a", lost=("other",))), Verdict.PASS),
        (SINGLE, report(fault("stop.a"), fault("stop.a", "stop.b", **LOSES)), Verdict.PASS),
        (SINGLE, report(fault("stop.a"), whole=False), Verdict.INCONCLUSIVE),
        (SINGLE, report(fault("stop.a", verified=False)), Verdict.INCONCLUSIVE),
        (SINGLE, report(fault("stop.a", lost=("halt",)), whole=False), Verdict.FAIL),
        (ADDED, report(fault("stop.a")), Verdict.PASS),
        (ADDED, report(fault("stop.a"), most=1), Verdict.NOT_OBSERVED),
        (ADDED, report(fault("stop.a", **LOSES), most=1), Verdict.FAIL),
        (ADDED, report(fault("stop.a", "stop.b", **LOSES)), Verdict.FAIL),
        (ADDED, report(fault("stop.a", "stop.b", lost=("halt",), detected=True)), Verdict.PASS),
        (ADDED, report(fault("stop.a"), carried="B13"), Verdict.INCONCLUSIVE),
        (ADDED, report(fault("stop.a"), carried="", whole=False), Verdict.INCONCLUSIVE),
        (START, report(fault("unit.x")), Verdict.PASS),
        (START, report(fault("unit.x", restarts=("unit",))), Verdict.FAIL),
        (START, report(fault("stop.a", lost=("halt",))), Verdict.PASS),
        (START, report(fault("unit.x"), whole=False), Verdict.INCONCLUSIVE),
    ],
)
def test_what_the_table_says_decides(bench: Bench, found: FaultReport, verdict: Verdict) -> None:
    assert judged(bench, found).verdict is verdict


def test_the_shortest_example_comes_first_and_the_others_are_counted() -> None:
    long, short = fault("stop.a", steps=5, lost=("halt",)), fault("stop.b", steps=2, lost=("halt",))
    one = judged(SINGLE, report(long, short))
    assert one.sentence == "A single fault loses it: contact b sticks (so does 1 other fault)."
    assert one.story is STORY


def test_faults_that_add_up_are_told_together() -> None:
    one = judged(ADDED, report(fault("stop.a"), fault("stop.a", "stop.b", **LOSES)))
    assert (
        one.sentence
        == "Faults that add up unnoticed lose it: contact a sticks together with contact b sticks."
    )


def test_the_acts_are_those_of_the_function_itself() -> None:
    mine, other = Example("halt", 4, (), STORY), Example("other", 1, (), STORY)
    both = replace(fault("stop.a", lost=("halt", "other")), examples=(other, mine))
    again = replace(fault("stop.b", lost=("halt",)), examples=(Example("halt", 3, (), STORY),))
    assert judged(SINGLE, report(both, again)).sentence.startswith(
        "A single fault loses it: contact b sticks"
    )


def test_a_relay_that_watches_itself_withstands_any_single_fault() -> None:
    excluded = [
        {"fault": name, "reason": "invented", "source": "invented"}
        for name in ("stop.contacts_come_off", "unit.start_stays_on")
    ]
    data = {**SMALL, "exclusions": excluded}
    functions = {"halt": {**SMALL["required"]["functions"]["halt"], "single_fault_tolerant": True}}
    restart = {**SMALL["required"]["restart"], "single_fault_tolerant": True}
    data["required"] = {**SMALL["required"], "functions": functions, "restart": restart}
    result = check(Bench.model_validate(data))
    mine = [
        one for one in result.properties if one.id in {"single_fault_tolerant", "start_by_person_under_fault"}
    ]
    assert [one.verdict for one in mine] == [Verdict.PASS, Verdict.PASS]
