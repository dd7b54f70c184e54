"""The rating in the report: every step followable, what is from memory visible, refusals with their reasons."""

from pathlib import Path
from typing import Any

import pytest
from evidence_material import MADE_AT, sample
from evidence_pdf_text import page_texts, whole_text
from evidence_rating import document, rated_sample, rating_alone

from interlock.errors import EvidenceError
from interlock.evidence.document import report_bytes, write_report
from interlock.evidence.material import ReportMaterial, read
from interlock.evidence.rating_pages import FOOTER
from interlock.rating.cautions import CAUTIONS
from interlock.rating.step import Mark, Step
from interlock.rating.step import shown as as_shown
from interlock.verdict import Verdict, worst

LOUD = "FROM MEMORY: check it"


def pages(folder: Path, material: ReportMaterial) -> list[str]:
    return page_texts(write_report(folder / "r.pdf", material, made_at=MADE_AT))


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("alone") / "r.pdf"
    return write_report(path, rating_alone("not shown"), made_at=MADE_AT)


@pytest.fixture(scope="module")
def text(alone: Path) -> str:
    return whole_text(alone)


def steps() -> list[dict[str, Any]]:
    found = document("not shown")
    return [step for part in (*found["functions"], *found["others"]) for step in part["steps"]]


def squeezed(words: str) -> str:
    """Without spaces: lines may break anywhere."""
    return "".join(words.split())


# each step


def test_every_step_shows_title_formula_numbers_and_result(text) -> None:
    shown = squeezed(text)
    for raw in steps():
        step = Step(**{**raw, "numbers": tuple(map(tuple, raw["numbers"])), "mark": Mark(raw["mark"])})
        assert squeezed(f"{step.title}{step.formula}") in shown
        if step.filled_in() != step.formula:
            assert squeezed(f"= {step.filled_in()}") in shown
        assert squeezed(f"{as_shown(step.result)}{step.unit}") in shown


def test_every_source_is_named(text) -> None:
    shown = squeezed(text)
    for step in steps():
        assert squeezed(step["source"]) in shown


def test_what_is_from_memory_stands_out_as_often_as_it_is_used(text) -> None:
    due = [step for step in steps() if step["mark"] == Mark.FROM_MEMORY]
    assert due
    assert squeezed(text).count(squeezed(LOUD)) == len(due)


def test_the_strongest_input_comes_first(text) -> None:
    for function in document("not shown")["functions"]:
        names = [one["name"] for one in function["effects"]]
        start = text.index(
            "What decides, the strongest input first",
            text.index(function["name"].replace("_", " ").capitalize()),
        )
        places = [text.index(name, start) for name in names]
        assert places == sorted(places)


# each page


def test_deferral_stands_under_every_page(alone) -> None:
    for page in page_texts(alone):
        assert FOOTER in page
    assert "local codes and licensed practice" in FOOTER


def test_also_under_every_page_of_a_demo_and_of_a_whole_report(tmp_path) -> None:
    assert all(FOOTER in page for page in pages(tmp_path, rated_sample(demo=True)))


def test_the_ratings_own_cautions_are_there(text) -> None:
    for caution in CAUTIONS:
        assert squeezed(caution) in squeezed(text)


def test_without_a_rating_no_word_of_one(plain: Path) -> None:
    shown = whole_text(plain)
    assert "Rating by" not in shown
    assert "on the rating" not in shown
    assert FOOTER not in shown


# verdicts


def test_a_rating_alone_says_so_and_shows_no_proof(alone, text) -> None:
    first = page_texts(alone)[0]
    assert "Report of a rating" in first
    assert "This report rates and does nothing else" in first
    assert squeezed("hood_stop PL d, PL d required; button_stop PL d, PL c required") in squeezed(first)
    assert "Together inconclusive" in first
    assert "Findings in the traces" not in text


def test_what_was_not_shown_names_the_structure(text) -> None:
    assert "Rating, hood_stop: PL d required, PL d reached, but that the structure of contacts" in text


@pytest.mark.parametrize(
    ("name", "verdict"), [("not shown", Verdict.INCONCLUSIVE), ("bridged", Verdict.FAIL)]
)
def test_the_rating_counts_in_the_verdict_of_the_whole(name, verdict) -> None:
    assert read(rating_alone(name)).verdict is verdict
    with_all = read(rated_sample(name))
    parts = [with_all.chain_verdict, with_all.trace_verdict, verdict]
    assert with_all.verdict is worst(parts)


def test_a_rating_that_fails_fails_a_report_whose_proof_holds() -> None:
    proof = sample()
    assert proof.check is not None
    assert proof.replay is not None
    chain = dict(proof.check, verdict="pass", properties=proof.check["properties"][:1])
    traces = dict(proof.replay, verdict="pass", findings=proof.replay["findings"][:1], quality=[])
    whole = {"check": chain, "replay": traces}
    assert read(rated_sample("shown", **whole)).verdict is not Verdict.FAIL
    assert read(sample(**whole)).verdict is Verdict.PASS
    assert read(rated_sample("bridged", **whole)).verdict is Verdict.FAIL


def test_a_missing_proof_is_not_mended_by_a_good_rating() -> None:
    material = read(rated_sample(replay=None, check=None))
    assert material.is_rating_alone
    half = read(rated_sample(replay=None))
    assert half.verdict is Verdict.NOT_OBSERVED


def test_a_refused_claim_is_loud_and_on_the_first_page(tmp_path) -> None:
    shown = pages(tmp_path, rating_alone("bridged"))
    assert "What failed" in shown[0]
    assert "Rating, button_stop: PL c required, no level reached" in shown[0]
    whole = " ".join(shown)
    assert "Claim refused: the structure as wired supports only category B or 1" in whole
    assert "button_stop PL c no level not known no level FAIL" in whole


def test_who_signs_signs_for_the_ratings_verdict(text) -> None:
    assert "on the rating: inconclusive." in text


# bytes and strange material


def test_the_same_rating_gives_the_same_bytes() -> None:
    assert report_bytes(rating_alone(), made_at=MADE_AT) == report_bytes(rating_alone(), made_at=MADE_AT)


def test_another_rating_gives_other_bytes() -> None:
    one, other = (report_bytes(rating_alone(name), made_at=MADE_AT) for name in ("shown", "bridged"))
    assert one != other


@pytest.mark.parametrize("name", ["<b>x</b> & <br/>", "x" * 3000, "a\nb", "\N{RIGHT-TO-LEFT OVERRIDE}dlof"])
def test_strange_names_are_shown_and_break_nothing(tmp_path, name) -> None:
    rating = document("bridged")
    function = rating["functions"][1]
    function["name"] = function["subsystems"][0]["name"] = function["effects"][0]["name"] = name
    function["judgements"][0]["sentence"] = name
    function["steps"][0] |= {"title": name, "source": name, "formula": name}
    function["subsystems"][0]["refused_because"] = [name]
    shown = pages(tmp_path, rating_alone(rating=rating))
    assert all(FOOTER in page for page in shown)
    if name.startswith("<b>"):
        assert "<b>x</b> & <br/>" in " ".join(shown)


# material that contradicts itself


def spoilt(change) -> ReportMaterial:
    rating = document("bridged")
    change(rating)
    return rating_alone(rating=rating)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda r: r.update(verdict="pass"), "rating: states pass although the worst of its parts is fail"),
        (lambda r: r["functions"][1].update(verdict="pass"), "functions[1]: states pass although"),
        (lambda r: r["others"][0].update(verdict="nearly"), "others[0].verdict"),
        (lambda r: r.update(functions=[]), "it rates no function"),
        (lambda r: r["bench"].update(fingerprint="00" * 32), "fingerprint"),
        (
            lambda r: r["functions"][0].update(pfhd_per_h=float("nan")),
            "functions[0].pfhd_per_h: a finite number",
        ),
        (lambda r: r["functions"][0].update(pfhd_per_h=True), "functions[0].pfhd_per_h: a finite number"),
        (lambda r: r["functions"][0]["effects"][0].pop("used"), "effects[0]: entry 'used' is missing"),
        (lambda r: r["functions"][0]["steps"][0].pop("result"), "steps[0]: entry 'result' is missing"),
        (lambda r: r["functions"][0]["steps"][0].update(mark="from hearsay"), "steps[0]: not a step"),
        (lambda r: r["functions"][0]["steps"][0].update(numbers=[1]), "steps[0]: not a step"),
        (
            lambda r: r["functions"][0]["judgements"][0].update(sentence=" "),
            "judgements[0].sentence: is empty",
        ),
        (
            lambda r: r.update(stop_times={"hood_stop": {"sentence": "x"}}),
            "stop_times.hood_stop: entry 'upper_s'",
        ),
        (lambda r: r.update(stop_times=[1]), "rating.stop_times: an object"),
    ],
)
def test_a_rating_that_cannot_be_right_is_refused(change, says) -> None:
    with pytest.raises(EvidenceError) as error:
        report_bytes(spoilt(change), made_at=MADE_AT)
    assert says in str(error.value)


def test_stops_that_were_measured_are_told(tmp_path) -> None:
    rating = document()
    rating["stop_times"] = {"hood_stop": {"upper_s": 4.2501, "sentence": "longest of 3"}}
    told = " ".join(pages(tmp_path, rating_alone(rating=rating)))
    assert "hood_stop: standstill after at most 4.251 s (longest of 3)" in told
    assert "The log served for the measured stop and discharge alone" in told
    assert "No trace was judged" not in told


def test_the_sample_without_rating_is_read_as_before() -> None:
    assert read(sample()).rating is None
