"""Files at hand against the sums in a report: the list within the PDF, and what each file is by it."""

import hashlib
import itertools
import json
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from evidence_material import MADE_AT, demo_sample
from evidence_pdf_text import whole_text

from interlock.errors import EvidenceError
from interlock.evidence import document
from interlock.evidence.attached import Listed, listed_in
from interlock.evidence.compared import Match, compare_files
from interlock.evidence.document import write_report
from interlock.evidence.keys import ReportSigner
from interlock.evidence.sign import Role, sign_report
from interlock.evidence.verify import verify_report
from interlock.verdict import Verdict

HOSTILE = "a) >> endobj %%EOF\n/ByteRange [0 1 2 3] Prüfstand.log"
GIVEN = {"bench.yaml": "bench description", "first.log": "log", "second.log": "log"}


def listed(path: str, role: str, content: str) -> dict[str, str]:
    return {"path": path, "role": role, "sha256": hashlib.sha256(content.encode()).hexdigest()}


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A report of three files, which lie beside it, and of one with a strange name, which does not."""
    folder = tmp_path_factory.mktemp("compared")
    for name in GIVEN:
        (folder / name).write_text(f"what {name} holds", "utf-8")
    own = [listed(f"archive/{name}", role, f"what {name} holds") for name, role in GIVEN.items()]
    more = [*own, listed(HOSTILE, "remark", "nothing")]
    material = demo_sample()
    material = replace(material, inputs=more, replay={**(material.replay or {}), "sources": []})
    return write_report(folder / "report.pdf", material, made_at=MADE_AT)


def test_the_list_is_what_the_material_holds_and_what_another_reader_finds(demo: Path) -> None:
    """pikepdf (QPDF) as a reader that shares nothing with the writer."""
    found = listed_in(demo)
    assert found == tuple(Listed(item["path"], item["role"], item["sha256"]) for item in demo_sample().inputs)
    with pikepdf.open(demo) as pdf:
        assert list(pdf.attachments) == ["inputs.json"]
        rows = json.loads(pdf.attachments["inputs.json"].get_file().read_bytes())
    assert [Listed(**row) for row in rows] == list(found)


def test_each_sum_of_the_list_is_printed_too(demo: Path) -> None:
    text = whole_text(demo).replace(" ", "")
    assert all(one.sha256 in text for one in listed_in(demo))


def test_signatures_leave_the_list_as_it_was(demo: Path, signed_twice: Path) -> None:
    assert listed_in(signed_twice) == listed_in(demo)


def test_a_path_that_looks_like_a_part_of_a_pdf_is_a_path(report: Path, tess: ReportSigner) -> None:
    signed = report.with_name("signed.pdf")
    sign_report(report, signed, tess, reason="tested", role=Role.TESTER, now=MADE_AT)
    assert verify_report(signed, now=MADE_AT).verdict is Verdict.PASS
    assert listed_in(signed)[-1].path == HOSTILE


@pytest.mark.parametrize(
    "names", [names for count in (1, 2, 3) for names in itertools.combinations(GIVEN, count)], ids=",".join
)
def test_files_of_the_report_are_the_same_and_the_others_are_told(
    report: Path, names: tuple[str, ...]
) -> None:
    found = compare_files(report, [report.with_name(name) for name in names])
    assert [one.match for one in found.files] == [Match.SAME] * len(names)
    assert [one.listed.path for one in found.files if one.listed] == [f"archive/{name}" for name in names]
    assert {one.path for one in found.not_given} == {
        HOSTILE,
        *(f"archive/{name}" for name in GIVEN if name not in names),
    }
    whole = {"first.log", "second.log"} <= set(names)
    assert found.verdict is (Verdict.PASS if whole else Verdict.NOT_OBSERVED)


def test_the_name_does_not_matter_where_the_content_is_the_same(report: Path, tmp_path: Path) -> None:
    (tmp_path / "second.log").write_text("what first.log holds", "utf-8")
    (found,) = compare_files(report, [tmp_path / "second.log"]).files
    assert found.match is Match.SAME
    assert found.listed is not None
    assert found.listed.path == "archive/first.log"


@pytest.mark.parametrize(
    ("name", "content", "match"),
    [
        ("first.log", "what first.log holds\n", Match.DIFFERS),  # one byte more
        ("first.log", "", Match.DIFFERS),
        ("third.log", "what third.log holds", Match.NOT_IN_REPORT),
        ("First.log", "what First.log holds", Match.NOT_IN_REPORT),
    ],
    ids=["longer", "empty", "other", "case"],
)
def test_one_other_file_among_all_the_right_ones_fails(
    report: Path, tmp_path: Path, name: str, content: str, match: Match
) -> None:
    (tmp_path / name).write_text(content, "utf-8")
    right = [report.with_name(one) for one in GIVEN]
    found = compare_files(report, [*right, tmp_path / name])
    assert found.files[-1].match is match
    assert (found.files[-1].listed is None) is (match is Match.NOT_IN_REPORT)
    assert found.files[-1].sha256 == hashlib.sha256(content.encode()).hexdigest()
    assert found.verdict is Verdict.FAIL


def test_a_file_that_cannot_be_read_is_an_error_and_no_verdict(report: Path) -> None:
    with pytest.raises(EvidenceError, match=r"none\.log: cannot read: No such file"):
        compare_files(report, [report.with_name("first.log"), report.with_name("none.log")])


def test_a_report_without_the_list_says_what_to_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(document, "attach", lambda *_: None)
    old = write_report(tmp_path / "old.pdf", demo_sample(), made_at=MADE_AT)
    with pytest.raises(EvidenceError, match=r"old\.pdf: it holds no list .* by hand"):
        compare_files(old, [old])


@pytest.mark.parametrize("content", [b"", b"[]x", b'{"path": 1}', b'[{"path": "a"}]', b"[1]", b"\xff"])
def test_a_list_of_another_form_is_an_error_and_no_traceback(
    demo: Path, tmp_path: Path, content: bytes
) -> None:
    """Made with pikepdf: what another writer of PDF may have put there."""
    strange = tmp_path / "strange.pdf"
    with pikepdf.open(demo) as pdf:
        del pdf.attachments["inputs.json"]
        pdf.attachments["inputs.json"] = content
        pdf.save(strange)
    with pytest.raises(EvidenceError, match="by hand"):
        listed_in(strange)
