"""Faults in the report: the whole table, sets that add up, categories with reasons, exclusions with theirs."""

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from evidence_material import BENCH, CHECK, MADE_AT, sample
from evidence_pdf_text import whole_text

from interlock.bench import load_bench
from interlock.chain import check
from interlock.errors import EvidenceError
from interlock.evidence import ReportMaterial, write_report
from interlock.evidence.fault_rows import read_faults
from interlock.evidence.fields import Fields

ROOT = Path(__file__).parents[2]
RIG = ROOT / "tests/benches/wrong/52_tapped_halt_and_a_dead_input.yaml"


@cache
def judged() -> dict[str, Any]:
    return check(load_bench(RIG), faults=2).as_json()


def report(folder: Path, checked: dict[str, Any]) -> str:
    path = folder / "report.pdf"
    raw = ReportMaterial(bench=BENCH, check=checked, replay=None, inputs=[], software="test")
    write_report(path, raw, made_at=MADE_AT)
    return whole_text(path)


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    return report(tmp_path_factory.mktemp("faults"), judged())


def section(text: str) -> str:
    return text[text.index("The chain under faults") :]


def spaced(words: str) -> str:
    return " ".join(words.split())


def test_each_single_fault_is_in_the_table_with_what_comes_of_it(text: str) -> None:
    found = section(text)
    for one in judged()["faults"]:
        if len(one["set"]) == 1:
            assert spaced(one["words"][0]) in found
            if one["at"]:
                assert spaced(one["at"]) in found
    assert "loses halt_stop" in found
    assert "NOT noticed" in found


def test_the_search_says_how_far_it_went(text: str) -> None:
    assert spaced(judged()["fault_search"]["sentence"]) in section(text)


def test_each_minimal_set_is_told_and_whether_it_can_add_up(text: str) -> None:
    sets = [one for one in judged()["faults"] if len(one["set"]) > 1 and one["minimal"] and one["lost"]]
    assert sets
    for one in sets:
        assert spaced(" AND ".join(one["words"])) in section(text)
    assert "NO: they can add up unnoticed" in section(text)


def test_each_harmful_fault_comes_with_its_acts_and_picture(text: str) -> None:
    found = section(text)
    [dead] = [one for one in judged()["faults"] if one["set"] == ["pump.sto_dead"]]
    at = found.index(spaced(dead["sentence"]))
    assert "1. from power-up on: pump motor: the torque-off input does not act" in found[at:]
    last = dead["acts"][-1]["words"]
    assert f"{len(dead['acts'])}. {last}" in found[at:]
    assert "halt button demands the stop" in found[at:]


def test_each_category_stands_with_its_reasons(text: str) -> None:
    for one in judged()["categories"]:
        for sentence in one["sentences"]:
            assert spaced(sentence) in section(text)
    assert "no performance level" in section(text)


def test_each_exclusion_stands_with_reason_and_source(text: str) -> None:
    for one in judged()["exclusions"]:
        said = spaced(f"{one['words']} ({one['fault']}). Reason given: {one['reason']} [{one['source']}]")
        assert text.count(said) == 2  # among the open points and in the section


def test_faults_that_go_away_by_themselves_are_told(text: str) -> None:
    clearing = judged()["clearing"]
    assert clearing["found"]
    for said in (clearing["sentence"], *(one["sentence"] for one in clearing["found"])):
        assert spaced(said) in section(text)


def test_where_none_starts_or_loses_anything_that_is_said(tmp_path: Path) -> None:
    clearing = {**judged()["clearing"], "found": []}
    assert "None of them starts a unit or loses a function." in report(
        tmp_path, {**judged(), "clearing": clearing}
    )


def test_what_was_judged_is_not_said_to_be_left_out(text: str) -> None:
    assert "unless a property or finding above names them" not in text
    assert "more of them at a time than the section on faults says" in text


def test_without_faults_the_report_says_so(tmp_path: Path) -> None:
    path = tmp_path / "report.pdf"
    write_report(path, sample(), made_at=MADE_AT)
    found = whole_text(path)
    assert "Faults were not judged" in section(found)
    assert "unless a property or finding above names them" in found


def test_what_was_not_verified_never_reads_as_nothing() -> None:
    one = {**judged()["faults"][0], "verified": False, "detected": False, "lost": [], "restarts": []}
    found = read_faults(Fields.of({**judged(), "faults": [one]}, "check"))
    assert found is not None
    [told] = found.single
    assert (told.harm, told.noticed, told.order) == ("not verified",) * 3


@pytest.mark.parametrize("missing", ["detected", "verified"])
def test_a_fault_without_its_outcome_is_refused(missing: str) -> None:
    one = {key: value for key, value in judged()["faults"][0].items() if key != missing}
    with pytest.raises(EvidenceError, match=rf"check\.faults\[0\].*{missing}"):
        read_faults(Fields.of({**judged(), "faults": [one]}, "check"))


def test_a_check_of_older_shape_has_no_fault_rows() -> None:
    assert read_faults(Fields.of(CHECK, "check")) is None
