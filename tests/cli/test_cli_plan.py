"""`interlock plan`: the proof test on the terminal, as JSON, as YAML and on paper."""

import json

import jsonschema
import pytest

from interlock.bench import bench_fingerprint, load_bench
from interlock.procedure import load_procedure, plan_schema, procedure_schema

DEMO = "interlock/demo/bench.yaml"


def test_json_is_one_document_with_the_fixed_keys(interlock, root):
    said = interlock("plan", root / DEMO, "--json")
    assert said.code == 0
    document = json.loads(said.out)
    jsonschema.validate(document, plan_schema())
    assert {"cost", "lower_bound", "steps", "unrevealed"} <= set(document)
    assert document["bench"]["fingerprint"] == bench_fingerprint(root / DEMO, load_bench(root / DEMO))


def test_people_see_steps_bound_dark_faults_and_cautions(interlock, root):
    said = interlock("plan", root / DEMO)
    assert said.code == 0
    for words in (
        "proved lower bound",
        "Open the guard hood",
        "inspect instead",
        "local codes",
        "lower bound",
    ):
        assert words in said.out
    assert "common practice, no source" in said.out


def test_out_and_sheet_are_written_and_not_overwritten(interlock, root, tmp_path):
    out, sheet = tmp_path / "p.yaml", tmp_path / "p.pdf"
    said = interlock("plan", root / DEMO, "--out", out, "--sheet", sheet)
    assert said.code == 0
    found = load_procedure(out, load_bench(root / DEMO))
    assert found.bench.fingerprint == bench_fingerprint(root / DEMO, load_bench(root / DEMO))
    assert sheet.read_bytes().startswith(b"%PDF")
    out.write_text("mine")
    refused = interlock("plan", root / DEMO, "--out", out)
    assert refused.code == 2
    assert "--force" in refused.err
    assert out.read_text() == "mine"
    assert interlock("plan", root / DEMO, "--out", out, "--force").code == 0
    assert load_procedure(out) == found
    assert sorted(path.name for path in tmp_path.iterdir()) == ["p.pdf", "p.yaml"]


def test_a_taken_sheet_leaves_no_procedure_behind(interlock, root, tmp_path):
    (tmp_path / "p.pdf").write_text("mine")
    said = interlock("plan", root / DEMO, "--out", tmp_path / "p.yaml", "--sheet", tmp_path / "p.pdf")
    assert said.code == 2
    assert [path.name for path in tmp_path.iterdir()] == ["p.pdf"]


def test_a_place_that_cannot_be_written(interlock, root, tmp_path):
    said = interlock("plan", root / DEMO, "--out", tmp_path / "no" / "p.yaml")
    assert said.code == 2
    assert "cannot write there" in said.err


def test_what_cannot_be_exercised_ends_with_3_and_is_named(interlock, root):
    bench = root / "tests/benches/wrong/08_hood_channel_bridged.yaml"
    said = interlock("plan", bench)
    assert said.code == 3
    assert "reset:hood_stop" in said.out
    assert json.loads(interlock("plan", bench, "--json").out)["not_exercised"]


def test_schema_alone(interlock):
    said = interlock("plan", "--schema")
    assert said.code == 0
    assert json.loads(said.out) == json.loads(json.dumps(procedure_schema()))


@pytest.mark.parametrize("args", [(), ("none.yaml",)])
def test_bad_usage_and_bad_input_end_with_2(interlock, args):
    assert interlock("plan", *args).code == 2


@pytest.mark.parametrize("name", ["before_each_use", "first_use", "emergency_stop_test"])
def test_a_ready_procedure_goes_on_paper(interlock, root, tmp_path, name):
    sheet = tmp_path / "sheet.pdf"
    ready = root / "procedures" / f"{name}.yaml"
    said = interlock("plan", root / DEMO, "--procedure", ready, "--sheet", sheet)
    assert said.code == 0
    assert load_procedure(ready).procedure.title in said.out
    assert "local codes" in said.out
    assert sheet.read_bytes().startswith(b"%PDF")
    shown = json.loads(interlock("plan", root / DEMO, "--procedure", ready, "--json").out)
    jsonschema.validate(shown, procedure_schema())


def test_a_procedure_of_an_older_description_is_refused(interlock, root, tmp_path):
    out = tmp_path / "p.yaml"
    assert interlock("plan", root / DEMO, "--out", out).code == 0
    assert interlock("plan", root / DEMO, "--procedure", out).code == 0
    text = out.read_text()
    known = load_procedure(out).bench.fingerprint
    out.write_text(text.replace(known, "f" * 64))
    said = interlock("plan", root / DEMO, "--procedure", out)
    assert said.code == 2
    assert "derive the procedure anew" in said.err


def test_a_procedure_of_another_bench_is_refused_at_its_line(interlock, root):
    ready = root / "procedures" / "first_use.yaml"
    said = interlock("plan", root / "tests/benches/sample/bench.yaml", "--procedure", ready)
    assert said.code == 2
    assert "take the procedure of that bench" in said.err


def test_a_ready_procedure_is_not_written_again(interlock, root, tmp_path):
    ready = root / "procedures" / "first_use.yaml"
    said = interlock("plan", root / DEMO, "--procedure", ready, "--out", tmp_path / "p.yaml")
    assert said.code == 2
    assert list(tmp_path.iterdir()) == []
