"""`interlock check --faults`: guards in series and faults that go away by themselves, as text and as JSON."""

import json

import jsonschema
import pytest

from interlock.chain import check_schema

SHAPES = "tests/benches/shapes"


@pytest.fixture
def stuttering(root, tmp_path):
    """A fan whose start relay remembers the start, so that a loose wire starts it."""
    text = (root / SHAPES / "line_motor_by_two_contactors.yaml").read_text("utf-8")
    file = tmp_path / "fan.yaml"
    file.write_text(text.replace("go.pressed or q1.aux and q2.aux", "go.pressed or k2.out_a"), "utf-8")
    return file


def test_a_motor_that_starts_by_a_loose_wire_fails_with_its_acts(interlock, stuttering):
    said = interlock("check", stuttering, "--faults", "1")
    assert said.code == 1
    assert "clearing_never_starts" in said.out
    assert "the fault goes away by itself: first contactor: the wire to coil is broken" in said.out


def test_the_same_bench_is_not_failed_where_faults_are_not_asked_for(interlock, stuttering):
    assert interlock("check", stuttering).code == 0


def test_guards_in_series_are_told_with_class_and_source(interlock, root):
    said = interlock("check", root / SHAPES / "three_doors.yaml", "--faults", "1")
    assert said.code == 0
    assert "Guards in series (ISO/TR 24119)" in said.out
    assert (
        "first door, second door, third door at the safety relay: simplified method, masking level 3 of 3"
        in said.out
    )
    assert "coverage none and PL c at best" in said.out
    assert "Fault masking level 3 of 3" in said.out
    assert "from memory" in said.out


def test_a_bench_without_guards_in_series_says_nothing_of_them(interlock, root):
    said = interlock("check", root / SHAPES / "flow_switch.yaml", "--faults", "1")
    assert "Guards in series" not in said.out
    assert "Faults that go away by themselves" in said.out


def test_the_json_holds_both_and_fits_its_schema(interlock, root):
    document = json.loads(
        interlock("check", root / SHAPES / "three_doors.yaml", "--faults", "1", "--json").out
    )
    jsonschema.validate(document, check_schema())
    assert [one["guards"] for one in document["masking"]] == [["door_1", "door_2", "door_3"]]
    assert [(one["method"], one["level"], one["dc"], one["max_pl"]) for one in document["masking"]] == [
        ("simplified", 3, "none", "c")
    ]
    assert document["clearing"]["whole"] is True
    without = json.loads(interlock("check", root / SHAPES / "three_doors.yaml", "--json").out)
    assert without["clearing"] is None
    assert "masking" not in without


def test_the_tables_say_what_they_call_the_functions(interlock, root):
    said = interlock("check", root / SHAPES / "diagnostic_feedback.yaml", "--faults", "1").out
    document = json.loads(
        interlock("check", root / SHAPES / "diagnostic_feedback.yaml", "--faults", "1", "--json").out
    )
    titles = {one["function"]: one["title"] for one in document["categories"]}
    assert titles
    for name, title in titles.items():
        assert f"  {name}: {title}" in said
        assert said.index(f"  {name}: {title}") < said.index("what it does")


def test_effects_are_told_in_words_not_by_their_ids(interlock, root):
    said = interlock("check", root / SHAPES / "diagnostic_feedback.yaml", "--faults", "1").out
    categories = said[said.index("Categories of ISO 13849-1") :]
    assert "torque off: can carry " in categories
    assert "torque_off" not in categories


@pytest.mark.parametrize(("faults", "beside"), [("1", False), ("2", True)])
def test_pairs_are_told_where_two_faults_are_asked_for(interlock, root, faults, beside):
    said = interlock("check", root / SHAPES / "diagnostic_feedback.yaml", "--faults", faults).out
    assert ("Faults that go away by themselves while another one stays" in said) == beside
    assert ("come and go, alone, beside a lasting one" in said) == beside
    assert ("come and go, one at a time" in said) != beside


def test_a_fault_that_goes_away_comes_with_a_picture(interlock, root):
    said = interlock("check", root / SHAPES / "diagnostic_feedback.yaml", "--faults", "1").out
    part = said[said.index("Faults that go away by themselves") :]
    assert "the fault goes away by itself: " in part
    assert "Timing, one column an act" in part
