"""The report: what it says, read back with pikepdf; the same bytes for the same material and time."""

import os
import subprocess
import sys
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pikepdf
import pytest
from evidence_material import BENCH, CHECK, FINGERPRINT, MADE_AT, demo_sample, finding, sample
from evidence_pdf_text import page_texts, whole_text
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from interlock.cautions import CAUTIONS
from interlock.errors import EvidenceError
from interlock.evidence.document import report_bytes, write_report
from interlock.evidence.material import ReportMaterial
from interlock.evidence.open_points import LIMITS_OF_THE_WORK

DEMO = "DEMO - not evidence - SIGNED WITH A DEMO KEY"


@pytest.fixture(scope="module")
def text(plain: Path) -> str:
    return whole_text(plain)


def said(path: Path, material: ReportMaterial) -> str:
    return whole_text(write_report(path / "r.pdf", material, made_at=MADE_AT))


# the same bytes


def test_the_same_material_and_time_give_the_same_bytes(plain: Path) -> None:
    assert report_bytes(sample(), made_at=MADE_AT) == plain.read_bytes()


def test_the_zone_in_which_the_time_is_given_does_not_matter_to_what_is_shown(plain: Path) -> None:
    there = MADE_AT.astimezone(timezone(timedelta(hours=-5)))
    assert len(report_bytes(sample(), made_at=there)) == plain.stat().st_size


def test_another_process_and_environment_give_the_same_bytes(plain: Path) -> None:
    env = {"PYTHONHASHSEED": "7", "SOURCE_DATE_EPOCH": "1", "TZ": "Asia/Tokyo", "LC_ALL": "C"}
    code = (
        "import sys; from evidence_material import sample, MADE_AT;"
        "from interlock.evidence.document import report_bytes;"
        "sys.stdout.buffer.write(report_bytes(sample(), made_at=MADE_AT))"
    )
    paths = [str(Path(__file__).parent), *sys.path]
    whole = {**os.environ, "PYTHONPATH": os.pathsep.join(paths), **env}
    done = subprocess.run([sys.executable, "-c", code], env=whole, capture_output=True, check=True)
    assert done.stdout == plain.read_bytes()


@pytest.mark.parametrize(
    "other",
    [
        sample(remarks="one more word"),
        sample(software="0.1.1"),
        sample(demo=True),
        sample(inputs=[dict(item, role="other") for item in sample().inputs]),
    ],
)
def test_other_material_gives_other_bytes_and_another_id(
    plain: Path, other: ReportMaterial, tmp_path: Path
) -> None:
    path = write_report(tmp_path / "r.pdf", other, made_at=MADE_AT)
    with pikepdf.open(path) as new, pikepdf.open(plain) as old:
        assert bytes(new.trailer.ID[0]) != bytes(old.trailer.ID[0])


def test_another_time_gives_other_bytes(plain: Path) -> None:
    assert report_bytes(sample(), made_at=MADE_AT + timedelta(seconds=1)) != plain.read_bytes()


def test_a_time_without_zone_is_refused() -> None:
    with pytest.raises(EvidenceError, match="time zone"):
        report_bytes(sample(), made_at=datetime(2026, 3, 4))  # noqa: DTZ001 - the point of it


# what it says


def test_it_names_the_bench_and_when_and_by_what_it_was_made(text: str) -> None:
    for part in (BENCH["name"], BENCH["id"], BENCH["place"], FINGERPRINT, *BENCH["ratings"]):
        assert part in text
    assert "2026-03-04 09:30:15 UTC by interlock 0.1.0" in text
    assert "2026-03-04T08:12:44.001203Z" in text


def test_the_letters_of_units_are_shown_as_they_are(text: str) -> None:
    """µ · ≤ ä Ω ² must come out as these characters, not as boxes or look-alikes."""
    for letter in "µ·≤äüΩ²":
        assert letter in text
    assert "\N{REPLACEMENT CHARACTER}" not in text


def test_the_verdicts_stand_in_words_on_the_first_page(plain: Path) -> None:
    first = page_texts(plain)[0]
    assert "Chain as built not observed 2 properties over 4212 reachable states: 1 pass, 0 FAIL" in first
    assert (
        "Recorded traces FAIL 3 demands, 18 findings: 15 pass, 1 FAIL, 1 inconclusive, 1 not observed"
        in first
    )
    assert "Together FAIL" in first
    assert "Finding 7, button_stop: Button stop at 14.000 s" in first


def test_cautions_and_the_limits_of_the_work_are_always_there(tmp_path: Path) -> None:
    empty = sample(check=None, replay=None, inputs=[])
    shown = said(tmp_path, empty)
    for sentence in (*CAUTIONS, *LIMITS_OF_THE_WORK):
        assert sentence in shown
    for word in ("Rotating parts", "Stored energy", "Guarded chamber", "Local codes", "licensed practice"):
        assert word in shown


def test_what_was_not_done_is_never_a_pass(tmp_path: Path) -> None:
    shown = said(tmp_path, sample(check=None, replay=None, inputs=[]))
    assert "Together not observed" in shown
    assert "The chain was not checked" in shown
    assert "No trace was judged" in shown
    half = said(tmp_path, sample(replay=None))
    assert "Recorded traces not observed" in half
    assert "Together not observed" in half


def test_each_finding_shows_its_figures_and_sentence(text: str) -> None:
    material = sample()
    assert material.replay is not None
    for row in material.replay["findings"]:
        assert row["sentence"] in text
    assert "228.0 to 251.3 ms 100 ms FAIL" in text
    assert "3.100 s or more 5 s inconclusive" in text
    assert "not of one demand not timed none not observed" in text


def test_what_is_open_is_listed_apart(text: str) -> None:
    opened = text[text.index("What was not shown") : text.index("What was judged")]
    assert "Nobody pressed supply-on" in opened
    assert "The log ends 3.1 s after the demand" in opened
    assert "No reachable state has the two cover channels disagreeing" in opened
    assert "gap: PSU_Bus is not seen again" in opened and "blinds bus_discharged" in opened


def test_what_the_results_exclude_assume_and_warn_of_is_listed_once(tmp_path: Path) -> None:
    check = CHECK | {
        "faults_not_covered": ["welded contact of K1"],
        "exclusions": ["broken shaft"],
        "assumptions": ["the model has no clock"],
        "cautions": [CAUTIONS[0], "mind the step"],
        "whole": False,
    }
    shown = said(tmp_path, sample(check=check))
    for words in ("welded contact of K1", "broken shaft", "the model has no clock", "mind the step"):
        assert words in shown
    assert "Not every state that the bench can reach was explored" in shown
    assert shown.count(CAUTIONS[0]) == 1


def test_each_requirement_stands_with_its_source(text: str) -> None:
    judged = text[text.index("What was judged") : text.index("Findings in the traces")]
    assert "torque off in time [the bench's engineer; IEC 60204-1:2016, 9.2]" in judged
    assert "cover_stop, button_stop, emergency_stop 5 pass, 1 FAIL" in judged
    chain = text[text.index("The chain as built") :]
    assert "Safe torque off on every demand [IEC 61800-5-2:2016, 4.2.3.2] Found: Whenever a stop" in chain


def test_a_violation_shows_its_acts_in_order(tmp_path: Path) -> None:
    acts = ["open the cover", {"who": "person", "words": "close it", "kind": "act"}, "press reset"]
    wrong = CHECK["properties"][0] | {"verdict": "fail", "acts": acts, "title": "cover takes torque away"}
    shown = said(tmp_path, sample(check=CHECK | {"verdict": "fail", "properties": [wrong]}))
    assert "How each violation comes about" in shown
    assert "1. open the cover 2. close it 3. press reset" in shown
    assert "Chain, cover takes torque away: Whenever" in shown


def test_each_input_stands_with_its_digest(text: str) -> None:
    for item in sample().inputs:
        assert f"{item['path']}: SHA-256 {item['sha256']}" in text
    assert "frames 60988, non frames 12, rejected 0" in text


def test_there_are_lines_to_sign_on(text: str) -> None:
    last = text[text.rindex("Signatures") :]
    assert "Tester" in last and "Safety officer" in last
    assert FINGERPRINT in last and "on the recorded traces: FAIL" in last


def test_remarks_keep_their_lines(tmp_path: Path) -> None:
    assert "first line second line" in said(tmp_path, sample(remarks="first line\nsecond line"))
    assert "Remarks" not in said(tmp_path, sample(remarks="  "))


def test_each_page_is_numbered_and_marked(plain: Path, demo: Path) -> None:
    for path, marked in ((plain, False), (demo, True)):
        pages = page_texts(path)
        assert len(pages) > 2
        for number, page in enumerate(pages, 1):
            assert f"page {number} of {len(pages)}" in page
            assert (DEMO in page) is marked


def test_the_document_information_names_the_bench(plain: Path, demo: Path) -> None:
    with pikepdf.open(plain) as pdf:
        info = pdf.docinfo
        assert str(info.Title) == f"Safety chain of {BENCH['name']}"
        assert FINGERPRINT in str(info.Subject)
        assert str(info.CreationDate) == "D:20260304093015+00'00'"
        assert str(info.Keywords) == "interlock-report"
    with pikepdf.open(demo) as pdf:
        assert str(pdf.docinfo.Keywords) == "interlock-report demo-key"


def test_a_bench_cannot_name_itself_into_the_marks(tmp_path: Path) -> None:
    name = "x) /Keywords (interlock-report demo-key"
    path = write_report(tmp_path / "r.pdf", sample(bench=BENCH | {"name": name}), made_at=MADE_AT)
    with pikepdf.open(path) as pdf:
        assert str(pdf.docinfo.Keywords) == "interlock-report"
        assert str(pdf.docinfo.Title).endswith(name)


def test_every_font_that_shows_text_is_embedded(plain: Path) -> None:
    """ISO 32000-1, 9.9: so that it looks the same anywhere and in five years."""
    with pikepdf.open(plain) as pdf:
        for page in pdf.pages:
            used = {
                str(operands[0])
                for operands, operator in pikepdf.parse_content_stream(page)
                if str(operator) == "Tf"
            }
            shown = {str(page.Resources.Font[name].BaseFont) for name in used} - {"/Helvetica"}
            assert shown
            for name in used:
                font = page.Resources.Font[name]
                assert font.BaseFont == "/Helvetica" or "/FontFile2" in font.FontDescriptor


# sizes and odd texts


def _many(count: int) -> ReportMaterial:
    material = sample()
    assert material.replay is not None
    onset = [6_000_000_000, 6_009_800_000]
    rows = [finding("cover_stop", "torque_off", f"unit {i}", onset) for i in range(count)]
    return replace(material, replay={**material.replay, "verdict": "pass", "findings": rows})


def test_hundreds_of_findings_go_on_over_pages(tmp_path: Path) -> None:
    path = write_report(tmp_path / "r.pdf", _many(150), made_at=MADE_AT)
    pages = page_texts(path)
    whole = " ".join(pages)
    for number in range(150):
        assert f"unit {number} 6.0000" in whole
    tables = [page for page in pages if "14.1 to 31.7 ms 100 ms pass" in page]
    assert len(tables) > 5
    assert all("Latency Limit Verdict" in page for page in tables)


LONG = ["x" * 6000, "word " * 1500, "漢字Ж " * 500, "a\nb\tc\x00" * 300]


@pytest.mark.parametrize("odd", LONG)
def test_texts_of_any_length_wrap_and_go_on(odd: str, tmp_path: Path) -> None:
    material = sample(bench=BENCH | {"name": odd, "place": odd}, remarks=odd)
    assert material.replay is not None
    first = material.replay["findings"][0]
    first |= {"sentence": odd, "subject": odd, "function": odd, "requirement": odd, "source": odd}
    material.replay["demands"][0] |= {"function": odd, "device": odd}
    material.replay["demands"][0]["pictures"][0] |= {"label": odd, "unit": odd}
    material.replay["quality"][0] |= {"sentence": odd, "place": odd}
    assert len(page_texts(write_report(tmp_path / "r.pdf", material, made_at=MADE_AT))) > 5


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=80), st.text(min_size=1, max_size=20).filter(str.strip))
def test_any_text_gives_a_readable_report(tmp_path: Path, sentence: str, name: str) -> None:
    row = finding(name, name, name, [0, 5], sentence=sentence)
    replay = {"verdict": "pass", "demands": [], "findings": [row], "quality": [], "sources": []}
    material = sample(bench=BENCH | {"name": name}, replay=replay, check=None, remarks=sentence)
    assert page_texts(write_report(tmp_path / "r.pdf", material, made_at=MADE_AT))


def test_markup_in_a_name_is_shown_not_obeyed(tmp_path: Path) -> None:
    shown = said(tmp_path, demo_sample(bench=BENCH | {"name": "<b>bold</b> &amp; <img src='x'/>"}))
    assert "<b>bold</b> &amp; <img src='x'/>" in shown


def test_what_cannot_be_written_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "r.pdf"
    path.write_bytes(b"old")
    with pytest.raises(EvidenceError):
        write_report(path, sample(bench={"id": "x"}), made_at=MADE_AT)
    assert path.read_bytes() == b"old"
    with pytest.raises(EvidenceError, match="cannot write"):
        write_report(tmp_path / "no" / "r.pdf", sample(), made_at=MADE_AT)


def test_material_that_is_not_json_is_refused() -> None:
    with pytest.raises(EvidenceError, match="not JSON"):
        report_bytes(sample(bench=BENCH | {"extra": Path("x")}), made_at=MADE_AT)


def test_however_much_failed_the_cautions_stay_on_the_first_page(tmp_path: Path) -> None:
    material = _many(40)
    assert material.replay is not None
    rows = [row | {"verdict": "fail"} for row in material.replay["findings"]]
    failed = replace(material, replay={**material.replay, "verdict": "fail", "findings": rows})
    first = page_texts(write_report(tmp_path / "r.pdf", failed, made_at=MADE_AT))[0]
    assert "and 34 more, each marked FAIL" in first
    for sentence in CAUTIONS:
        assert sentence in first
