"""The procedure sheet: the same bytes each time, every step with room to fill in, nothing left out."""

import re
from pathlib import Path

import pytest
from evidence_pdf_text import page_texts, whole_text

from interlock.cautions import IN_SHORT
from interlock.errors import EvidenceError
from interlock.evidence.sheet import sheet_pdf
from interlock.procedure import load_procedure
from interlock.procedure.models import Procedure

FOLDER = Path(__file__).parents[2] / "procedures"
NAMES = sorted(path.stem for path in FOLDER.glob("*.yaml"))


def loaded(name: str) -> Procedure:
    return load_procedure(FOLDER / f"{name}.yaml")


def put(tmp_path: Path, procedure: Procedure) -> Path:
    path = tmp_path / "sheet.pdf"
    path.write_bytes(sheet_pdf(procedure))
    return path


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("name", NAMES)
def test_every_text_of_the_procedure_is_on_the_sheet(name: str, tmp_path: Path) -> None:
    procedure = loaded(name)
    said = squeezed(whole_text(put(tmp_path, procedure)))
    texts = [procedure.procedure.title, procedure.procedure.when, *procedure.cautions]
    texts += [*procedure.before, *procedure.after]
    texts += [text for step in procedure.steps for text in (step.act, *step.observe, *step.note)]
    texts += [text for one in procedure.unrevealed for text in (one.inspect, one.words)]
    assert [text for text in texts if squeezed(text) not in said] == []


def test_the_same_procedure_gives_the_same_bytes() -> None:
    assert sheet_pdf(loaded("before_each_use")) == sheet_pdf(loaded("before_each_use"))


def test_there_is_room_for_names_date_and_remarks(tmp_path: Path) -> None:
    said = whole_text(put(tmp_path, loaded("before_each_use")))
    for words in ("Date", "Performed by", "Recording (file)", "AS DESCRIBED", "Remarks", "(signature)"):
        assert words in said


def test_each_step_can_be_ticked(tmp_path: Path) -> None:
    procedure = loaded("periodic_proof_test")
    said = whole_text(put(tmp_path, procedure))
    assert len(re.findall(r"\byes\b", said)) >= len(procedure.steps)
    assert len(re.findall(r"\bno\b(?! torque| pass)", said)) >= len(procedure.steps)


def test_every_page_carries_the_caution_and_its_number(tmp_path: Path) -> None:
    pages = page_texts(put(tmp_path, loaded("periodic_proof_test")))
    assert len(pages) > 1
    for number, text in enumerate(pages, 1):
        assert squeezed(IN_SHORT) in squeezed(text)  # no word of it is cut
        assert f"page {number}" in text


def test_without_a_fingerprint_the_sheet_says_so(tmp_path: Path) -> None:
    assert "not tied to one state" in whole_text(put(tmp_path, loaded("first_use")))


def test_a_text_that_fits_on_no_page_is_refused() -> None:
    procedure = loaded("before_each_use")
    step = procedure.steps[0].model_copy(update={"act": "turn the shaft and look at it closely " * 400})
    with pytest.raises(EvidenceError, match="longer than a page"):
        sheet_pdf(procedure.model_copy(update={"steps": [step]}))


@pytest.mark.parametrize("name", NAMES)
def test_each_page_tells_how_many_there_are(name: str, tmp_path: Path) -> None:
    """A sheet that is signed by hand must show when a page of it is missing."""
    pages = page_texts(put(tmp_path, loaded(name)))
    told = [re.findall(r"page (\d+) of (\d+)", " ".join(text.split())) for text in pages]
    assert told == [[(str(number), str(len(pages)))] for number in range(1, len(pages) + 1)]


@pytest.mark.parametrize("more", [15, 16, 17, 18])
def test_the_result_stands_on_one_page_with_its_signatures(more: int, tmp_path: Path) -> None:
    """Whatever comes before it: a signature alone on a page says nothing."""
    procedure = loaded("before_each_use")
    after = [*procedure.after, *(f"look at part {number}" for number in range(more))]
    pages = page_texts(put(tmp_path, procedure.model_copy(update={"after": after})))
    (last,) = (text for text in pages if "Performed by (signature)" in text)
    for words in ("Result", "every step and every inspection was as described", "Remarks"):
        assert squeezed(words) in squeezed(last)
