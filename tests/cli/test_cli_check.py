"""`interlock check`: benches that must pass, benches that must fail first with the stated property."""

import json
from pathlib import Path

import jsonschema
import pytest
import yaml

from interlock.bench import bench_schema
from interlock.chain import check_schema

WRONG = Path(__file__).parents[1] / "benches" / "wrong"
EXPECTED = yaml.safe_load((WRONG.parent / "wrong_expected.yaml").read_text())
GOOD = ["tests/benches/sample/bench.yaml", "interlock/demo/bench.yaml"]


@pytest.mark.parametrize("bench", GOOD)
def test_sound_benches_exit_0(interlock, root, bench):
    said = interlock("check", root / bench, "--json")
    assert said.code == 0
    document = json.loads(said.out)
    jsonschema.validate(document, check_schema())
    assert document["verdict"] == "pass"
    assert document["whole"] is True
    assert len(document["bench"]["fingerprint"]) == 64


@pytest.mark.parametrize("bench", GOOD)
def test_people_are_told_what_it_rests_on(interlock, root, bench):
    said = interlock("check", root / bench)
    assert "every reachable state" in said.out
    assert "faults are not judged" in said.out
    assert "local codes" in said.out


def test_all_lists_each_property(interlock, root):
    said = interlock("check", root / GOOD[0], "--all")
    document = json.loads(interlock("check", root / GOOD[0], "--json").out)
    for one in document["properties"]:
        assert one["id"] in said.out


@pytest.mark.parametrize("name", sorted(EXPECTED)[::7])  # all of them: tests/chain
def test_wrong_benches_exit_1_with_the_right_property_first(interlock, name):
    said = interlock("check", WRONG / name, "--json")
    assert said.code == 1
    document = json.loads(said.out)
    jsonschema.validate(document, check_schema())
    first = next(one for one in document["properties"] if one["verdict"] == "fail")
    wanted = EXPECTED[name]["first"]
    assert (first["id"], first["function"], first["subject"]) == (
        wanted["id"],
        wanted["function"],
        wanted["subject"],
    )
    assert sum(not act["words"].startswith("from power-up on") for act in first["acts"]) == wanted["steps"]


def test_each_wrong_bench_is_listed():
    assert {path.name for path in WRONG.rglob("*")} == set(EXPECTED)
    assert len(EXPECTED) >= 30


def test_people_get_the_acts_in_order(interlock):
    said = interlock("check", WRONG / "04_contactor_ignores_emergency_off.yaml")
    assert said.code == 1
    assert "contactor_open" in said.out
    assert "1. press the" in said.out


def test_schema_is_printed_and_describes_the_sample(interlock, root):
    said = interlock("check", "--schema")
    assert said.code == 0
    schema = json.loads(said.out)
    assert schema == bench_schema()
    jsonschema.validate(yaml.safe_load((root / GOOD[0]).read_text()), schema)


def test_faults_are_told_in_words_and_as_data(interlock, root):
    said = interlock("check", root / GOOD[1], "--faults", "1", "--json")
    assert said.code == 0
    document = json.loads(said.out)
    jsonschema.validate(document, check_schema())
    welded = next(one for one in document["faults"] if "main contacts weld" in " ".join(one["words"]))
    # ISO 13849-2 lists welding of contacts; a single contactor that welds loses the disconnection of the supply
    assert welded["lost"] == ["emergency_stop"]
    assert welded["detected"] is True
    assert document["exclusions"]
    page = interlock("check", root / GOOD[1], "--faults", "1").out
    assert "Categories of ISO 13849-1 that the structure can carry" in page
    assert "Excluded: hood" in page
    assert page.index("Verdict of the whole check: pass", page.index("Categories")) > 0


@pytest.mark.parametrize("number", ["-1", "4", "many"])
def test_faults_are_few(interlock, root, number):
    assert interlock("check", root / GOOD[1], "--faults", number).code == 2
