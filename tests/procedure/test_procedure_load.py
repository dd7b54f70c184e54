"""Procedure files: what is written reads back, and each mistake has its place."""

import jsonschema
import pytest
import yaml
from plan_benches import DEMO, bench_of, plan_of

from interlock.cautions import CAUTIONS
from interlock.errors import BenchError, InterlockError
from interlock.procedure import as_yaml, load_procedure, parse_procedure, procedure_of, procedure_schema

GOOD = """procedure:
  title: a test
  purpose: before_each_use
  when: each day
  source: invented
bench: {id: cell_4, name: Cell 4}
cautions: [mind the shaft]
steps:
  - act: press the reset button
    device: reset
    does: [press]
    observe: [nothing starts]
    covers: ['stop:hood_stop']
"""


def test_a_derived_plan_reads_back_the_same() -> None:
    procedure = procedure_of(plan_of(DEMO), "a" * 64)
    assert parse_procedure("p.yaml", as_yaml(procedure), bench_of(DEMO)) == procedure


def test_a_derived_plan_holds_the_cautions_and_meets_the_schema() -> None:
    text = as_yaml(procedure_of(plan_of(DEMO), None))
    data = yaml.safe_load(text)
    jsonschema.validate(data, procedure_schema())
    assert data["cautions"] == list(CAUTIONS)
    assert "fingerprint" not in data["bench"]
    assert data["cost"]["cost"] >= data["cost"]["lower_bound"]


def test_the_schema_itself_is_one() -> None:
    jsonschema.Draft202012Validator.check_schema(procedure_schema())


def test_a_small_file_loads_with_defaults() -> None:
    found = parse_procedure("p.yaml", GOOD, bench_of(DEMO))
    assert found.steps[0].wait_s == 0
    assert found.steps[0].reveals == []
    assert found.bench.fingerprint is None


@pytest.mark.parametrize(
    ("old", "new", "place", "said"),
    [
        ("purpose: before_each_use", "purpose: lunch", "3:12", "does not fit"),
        ("cautions: [mind the shaft]\n", "", "1:1", "missing entry 'cautions'"),
        ("    device: reset", "    gadget: reset", "10:5", "unknown key 'gadget'"),
        ("device: reset", "device: resett", "10:13", "did you mean reset?"),
        ("does: [press]", "does: [push]", "11:12", "no such act"),
        ("observe: [nothing starts]", "observe: []", "12:14", "does not fit"),
        ("stop:hood_stop", "stop:hod_stop", "13:14", "did you mean hood_stop?"),
        ("id: cell_4", "id: cell_5", "6:13", "the bench at hand is 'cell_4'"),
        ("when: each day", "when: ''", "4:9", "when"),
    ],
)
def test_each_mistake_has_its_line_and_column(old: str, new: str, place: str, said: str) -> None:
    assert old in GOOD
    with pytest.raises(BenchError) as refused:
        parse_procedure("p.yaml", GOOD.replace(old, new), bench_of(DEMO))
    assert f"p.yaml:{place}: " in str(refused.value)
    assert said in str(refused.value)


def test_several_mistakes_are_told_at_once() -> None:
    text = GOOD.replace("before_each_use", "lunch").replace("does: [press]", "doez: [press]")
    with pytest.raises(BenchError) as refused:
        parse_procedure("p.yaml", text)
    assert len(refused.value.problems) == 2


def test_an_act_without_a_device_is_refused() -> None:
    with pytest.raises(BenchError, match="names no device"):
        parse_procedure("p.yaml", GOOD.replace("    device: reset\n", ""), bench_of(DEMO))


@pytest.mark.parametrize("text", ["", "steps: [", "- a\n- b\n", "procedure: {title: a, title: b}\n"])
def test_broken_text_is_refused(text: str) -> None:
    with pytest.raises(BenchError):
        parse_procedure("p.yaml", text)


def test_a_file_that_is_not_there(tmp_path) -> None:
    with pytest.raises(InterlockError, match="cannot read"):
        load_procedure(tmp_path / "none.yaml")


def test_a_file_that_is_far_too_long(tmp_path) -> None:
    path = tmp_path / "long.yaml"
    path.write_bytes(b"#" * 600_000)
    with pytest.raises(InterlockError, match="longer than"):
        load_procedure(path)


def test_bytes_that_are_no_text(tmp_path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_bytes(b"procedure: \xff\n")
    with pytest.raises(BenchError, match=r"1:12"):
        load_procedure(path)
