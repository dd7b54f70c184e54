"""A plan as a procedure file: nothing is lost, nothing is guessed by YAML, the same plan gives the same text."""

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from plan_benches import DEMO, SAMPLE, plan_of

from interlock.procedure import Procedure, as_yaml, parse_procedure, procedure_of
from interlock.procedure.models import Head, OfBench, Step
from interlock.procedure.write import AFTER, BEFORE

TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Co")), min_size=1, max_size=40
)


def small(act: str, observe: list[str]) -> Procedure:
    return Procedure(
        procedure=Head(title=act, purpose="first_use", when="once", source="invented"),
        bench=OfBench(id="some_bench", name="some bench"),
        cautions=["mind the shaft"],
        steps=[Step(act=act, observe=observe)],
    )


@given(TEXT.filter(str.strip), st.lists(TEXT.filter(str.strip), min_size=1, max_size=3))
def test_whatever_text_is_written_reads_back(act: str, observe: list[str]) -> None:
    procedure = small(act, observe)
    assert parse_procedure("p.yaml", as_yaml(procedure)) == procedure


@pytest.mark.parametrize(
    "word", ["yes", "no", "on", "1.5", "1e3", "null", "~", "0x10", "12:30", "- a", "a: b", "#x", "*a"]
)
def test_words_that_yaml_would_read_as_something_else_stay_words(word: str) -> None:
    procedure = small(word, [word])
    assert parse_procedure("p.yaml", as_yaml(procedure)).steps[0].act == word


@pytest.mark.parametrize("name", [DEMO, SAMPLE])
def test_every_step_of_the_plan_is_a_step_of_the_procedure(name: str) -> None:
    plan, procedure = plan_of(name), procedure_of(plan_of(name), None)
    assert len(procedure.steps) == len(plan.steps)
    for one, step in zip(plan.steps, procedure.steps, strict=True):
        assert (step.act, tuple(step.observe), step.wait_s) == (one.act, one.observe, one.wait_s)
        assert (tuple(step.does), tuple(step.covers), tuple(step.reveals)) == (
            one.does,
            one.covers,
            one.reveals,
        )
        assert step.device == (one.device or None)


def test_what_stays_dark_is_handed_on() -> None:
    plan = plan_of(DEMO)
    found = procedure_of(plan, None).unrevealed
    assert [(one.fault, one.inspect) for one in found] == [
        (one.fault, one.inspect) for one in plan.unrevealed
    ]


def test_the_same_plan_gives_the_same_text() -> None:
    assert as_yaml(procedure_of(plan_of(DEMO), "b" * 64)) == as_yaml(procedure_of(plan_of(DEMO), "b" * 64))


def test_it_begins_with_a_comment_and_holds_no_alias() -> None:
    text = as_yaml(procedure_of(plan_of(DEMO), None))
    assert text.startswith("# ")
    assert not [token for token in yaml.scan(text) if isinstance(token, yaml.AliasToken | yaml.AnchorToken)]


def test_what_comes_before_and_after_speaks_of_people_recorder_and_discharge() -> None:
    assert any("chamber" in text for text in BEFORE)
    assert any("competent person" in text for text in BEFORE)
    assert any("discharge" in text and "measure" in text for text in AFTER)
    assert any("Only 'pass' is a pass" in text for text in AFTER)
