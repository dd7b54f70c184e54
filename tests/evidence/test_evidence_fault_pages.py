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
from interlock.evidence.document import write_report
from interlock.evidence.fault_rows import read_faults
from interlock.evidence.fields import Fields
from interlock.evidence.material import ReportMaterial
from interlock.rating.masking import masking_of

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


def test_the_shortest_of_them_comes_with_acts_and_picture(text: str) -> None:
    shortest = min(judged()["clearing"]["found"], key=lambda one: len(one["acts"]))
    found = section(text)[section(text).index("Faults that go away by themselves") :]
    for number, act in enumerate(shortest["acts"], 1):
        assert spaced(f"{number}. {act['words']}") in found
    assert any(act["words"].startswith("the fault goes away by itself") for act in shortest["acts"])


def test_where_none_starts_or_loses_anything_that_is_said(tmp_path: Path) -> None:
    clearing = {**judged()["clearing"], "found": []}
    text = report(tmp_path, {**judged(), "clearing": clearing})
    assert "None of them starts a unit or loses a function by going away." in text
    assert "No such pair does harm that neither of its two faults does alone." in text


def test_what_was_not_searched_whole_never_reads_as_nothing(tmp_path: Path) -> None:
    short = {"whole": False, "sentence": "Not verified: too much memory.", "found": []}
    text = report(tmp_path, {**judged(), "clearing": {**short, "beside": short}})
    assert section(text).count("Not verified: too much memory.") == 2
    assert "None of them starts" not in text
    assert "No such pair" not in text


def test_a_pair_is_told_with_both_its_faults(tmp_path: Path) -> None:
    [one, *_] = judged()["clearing"]["found"]
    pair = {
        **one,
        "beside": "k1.out_a_welds",
        "beside_words": "guard relay: contact out_a welds",
        "restarts": ["pump"],
    }
    clearing = {**judged()["clearing"], "beside": {"whole": True, "sentence": "Searched.", "found": [pair]}}
    found = section(report(tmp_path, {**judged(), "clearing": clearing}))
    at = found.index("Faults that go away by themselves while another one stays")
    assert spaced(f"{one['words']}, WHILE ALSO guard relay: contact out_a welds") in found[at:]
    assert "Searched. This informs and changes no verdict" in found[at:]
    assert spaced(f"1. {one['acts'][0]['words']}") in found[at:]


def test_guards_in_series_are_told_with_level_coverage_and_what_is_not_rated(tmp_path: Path) -> None:
    doors = load_bench(ROOT / "tests/benches/shapes/three_doors.yaml")
    [masking] = [one.as_json() for one in masking_of(doors)]
    found = section(report(tmp_path, {**judged(), "masking": [masking]}))
    assert "Guards in series (ISO/TR 24119)" in found
    assert "first door, second door, third door at the safety relay" in spaced(found)
    assert "door_1" not in found[found.index("Guards in series (ISO/TR 24119)") :]
    assert all(one in found for one in ("simplified", "3 of 3", "PL c"))
    assert spaced(masking["sentence"]) in found


def test_guards_in_series_of_an_earlier_result_are_still_shown(tmp_path: Path) -> None:
    """Without people's words, method and level, which results of earlier versions do not hold."""
    doors = load_bench(ROOT / "tests/benches/shapes/three_doors.yaml")
    [masking] = [one.as_json() for one in masking_of(doors)]
    early = {
        name: value for name, value in masking.items() if name not in ("words", "method", "max_pl", "layout")
    }
    found = section(report(tmp_path, {**judged(), "masking": [early]}))
    assert "door_1, door_2, door_3 at k1" in spaced(found)
    assert "3 of 3" in found
    assert "PL c" not in found.partition("Best level")[2].partition("In series at")[0]


def test_that_no_guards_are_in_series_is_said(tmp_path: Path) -> None:
    assert "No two guards are in series" in report(tmp_path, {**judged(), "masking": []})


def test_a_result_that_does_not_tell_of_guards_in_series_says_nothing_of_them(text: str) -> None:
    assert "masking" not in judged()
    assert "Guards in series (ISO/TR 24119)" not in text


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


def test_the_tables_say_what_they_call_the_functions(text: str) -> None:
    titles = {one["function"]: one["title"] for one in judged()["categories"]}
    assert titles
    for name, title in titles.items():
        assert spaced(f"{name}: {title}") in section(text)


def test_what_all_categories_say_alike_stands_once(text: str) -> None:
    [last] = {one["sentences"][-1] for one in judged()["categories"]}
    assert section(text).count(spaced(last)) == 1


def test_categories_that_end_differently_keep_their_sentences(tmp_path: Path) -> None:
    first, *rest = judged()["categories"]
    other = {**first, "sentences": [*first["sentences"], "And this is said of it alone."]}
    found = section(report(tmp_path, {**judged(), "categories": [other, *rest]}))
    [last] = {one["sentences"][-1] for one in rest}
    assert found.count(spaced(last)) == len(rest) + 1
    assert "And this is said of it alone." in found


def cleared(**changes: Any) -> dict[str, Any]:
    return {**judged(), "clearing": {**judged()["clearing"], **changes}}


def test_a_result_from_before_pairs_and_pictures_is_still_read() -> None:
    old = [{key: one[key] for key in one if key != "story"} for one in judged()["clearing"]["found"]]
    document = cleared(found=old)
    del document["clearing"]["beside"]
    found = read_faults(Fields.of(document, "check"))
    assert found is not None
    assert found.beside is None
    assert found.cleared is not None
    assert [one.story for one in found.cleared.found] == [None] * len(old)
    assert [len(one.steps) for one in found.cleared.found] == [len(one["acts"]) for one in old]


@pytest.mark.parametrize("document", [{"clearing": None}, {"clearing": None, "masking": []}])
def test_what_was_not_asked_for_is_not_there(document: dict[str, Any]) -> None:
    found = read_faults(Fields.of({**judged(), **document}, "check"))
    assert found is not None
    assert found.cleared is None
    assert found.beside is None
    assert found.masking == (() if "masking" in document else None)


def test_one_fault_at_a_time_has_no_pairs() -> None:
    found = read_faults(Fields.of(cleared(beside=None), "check"))
    assert found is not None
    assert found.cleared is not None
    assert found.beside is None


def test_a_picture_with_too_few_columns_is_refused() -> None:
    one = judged()["clearing"]["found"][0]
    torn = {**one, "acts": one["acts"][:-1]}
    with pytest.raises(EvidenceError, match=r"columns were expected"):
        read_faults(Fields.of(cleared(found=[torn]), "check"))


@pytest.mark.parametrize("missing", ["sentence", "words"])
def test_a_cleared_fault_without_its_words_is_refused(missing: str) -> None:
    one = {key: value for key, value in judged()["clearing"]["found"][0].items() if key != missing}
    with pytest.raises(EvidenceError, match=missing):
        read_faults(Fields.of(cleared(found=[one]), "check"))


RULED = ROOT / "tests/benches/wrong/79_timer_relay_that_may_stay_in.yaml"


def test_broken_rules_stand_in_the_tables_and_among_the_examples(tmp_path: Path) -> None:
    """A stop that is no longer of category 1 is told with its acts, and as what it is."""
    document = check(load_bench(RULED), faults=2).as_json()
    found = section(report(tmp_path, document))
    assert "halt_stop: power of the winder drive stays on" in found
    assert "halt_stop: the winder drive is not braked" in found
    assert "Alone that is no loss of the stop, since the torque does go." in spaced(found)
    rows = read_faults(Fields.of(document, "check"))
    assert rows is not None
    pairs = [one for one in rows.several if one.breaks and not one.lost]
    assert pairs
    assert all(one.minimal for one in pairs)
    assert all(spaced(one.words) in spaced(found) for one in pairs)


def test_older_results_tell_of_no_rules_and_of_no_two_that_go() -> None:
    document = {**judged(), "faults": [dict(one) for one in judged()["faults"]]}
    for one in document["faults"]:
        del one["rules"], one["breaks"]
    document["clearing"] = {name: value for name, value in judged()["clearing"].items() if name != "both"}
    rows = read_faults(Fields.of(document, "check"))
    assert rows is not None
    assert all(one.breaks == () for one in rows.single)
    assert rows.both is None


def test_two_faults_that_both_go_have_a_section_of_their_own(tmp_path: Path) -> None:
    pair = {
        "fault": "k1.wire_reset_break",
        "words": "guard relay: the wire to reset is broken",
        "beside": "k1.wire_reset_break",
        "beside_words": "guard relay: the wire to reset is broken",
        "title": "guard relay: the wire to reset is broken, TWICE",
        "restarts": [],
        "lost": ["halt_stop"],
        "acts": [],
        "sentence": "Once both have come and gone, the stop no longer lasts.",
    }
    told = {"whole": True, "sentence": "Searched whole: any two.", "found": [pair]}
    found = section(report(tmp_path, {**judged(), "clearing": {**judged()["clearing"], "both": told}}))
    assert "Two faults that both go away by themselves, or one that comes twice" in found
    assert "guard relay: the wire to reset is broken, TWICE. Once both have come and gone" in spaced(found)
    none = report(tmp_path, {**judged(), "clearing": {**judged()["clearing"], "both": {**told, "found": []}}})
    assert "None of these does harm that one coming and going does not do as well." in spaced(none)
