"""Signing: what must not be signed is refused, and nothing half-written is left behind."""

from datetime import datetime, timedelta
from pathlib import Path

import pikepdf
import pytest
from evidence_forge import issued
from evidence_material import MADE_AT

from interlock.errors import EvidenceError
from interlock.evidence import sign as sign_module
from interlock.evidence.keys import ReportSigner, make_demo_signer
from interlock.evidence.sign import Role, sign_report
from interlock.evidence.verify import verify_report
from interlock.verdict import Verdict

NOW = MADE_AT + timedelta(hours=2)


def sign(
    src: Path, dst: Path, signer: ReportSigner, role: Role = Role.TESTER, now: datetime = MADE_AT
) -> Path:
    return sign_report(src, dst, signer, reason="tested", role=role, now=now)


def test_a_signature_is_an_appended_revision_of_the_pades_kind(demo: Path, signed_once: Path) -> None:
    """ISO 32000-1, 7.5.6 and ETSI EN 319 142-1, 5.3; read back by pikepdf (QPDF)."""
    assert signed_once.read_bytes().startswith(demo.read_bytes())
    with pikepdf.open(signed_once) as pdf:
        (field,) = pdf.Root.AcroForm.Fields
        assert str(field.T) == "tester"
        assert field.V.SubFilter == "/ETSI.CAdES.detached"
        assert str(field.V.Reason) == "tested by me"
        assert str(field.V.M).startswith("D:20260304093015")
        assert list(map(float, field.Rect)) == [0, 0, 0, 0]


def test_the_pages_are_not_touched(demo: Path, signed_twice: Path) -> None:
    with pikepdf.open(demo) as before, pikepdf.open(signed_twice) as after:
        assert len(before.pages) == len(after.pages)
        for old, new in zip(before.pages, after.pages, strict=True):
            assert old.Contents.read_bytes() == new.Contents.read_bytes()


def test_it_may_sign_in_place(demo: Path, tess: ReportSigner, tmp_path: Path) -> None:
    path = tmp_path / "report.pdf"
    path.write_bytes(demo.read_bytes())
    assert sign(path, path, tess) == path
    assert verify_report(path, now=NOW).verdict is Verdict.PASS
    assert [entry.name for entry in tmp_path.iterdir()] == ["report.pdf"]


@pytest.mark.parametrize(
    ("there", "says"),
    [
        ("signed_twice", "another signed document"),  # it holds a signature more than the report to be signed
        ("signed_once", "another signed document"),
        ("plain", "another file"),
        ("log", "another file"),
    ],
)
def test_nothing_that_would_be_lost_is_written_over(
    demo: Path, tess: ReportSigner, tmp_path: Path, request: pytest.FixtureRequest, there: str, says: str
) -> None:
    at = tmp_path / "there.pdf"
    at.write_bytes(b"(0.0) can0 123#00\n" if there == "log" else request.getfixturevalue(there).read_bytes())
    before = at.read_bytes()
    with pytest.raises(EvidenceError, match=f"there.pdf: {says} stands there and is not overwritten"):
        sign(demo, at, tess)
    assert at.read_bytes() == before


@pytest.mark.parametrize("there", ["demo", "signed_once"])
def test_an_earlier_state_of_the_same_report_may_stand_there(
    signed_once: Path, otto: ReportSigner, tmp_path: Path, request: pytest.FixtureRequest, there: str
) -> None:
    """The new file begins with all of it: nothing is lost."""
    at, earlier = tmp_path / "there.pdf", request.getfixturevalue(there).read_bytes()
    at.write_bytes(earlier)
    sign(signed_once, at, otto, Role.SAFETY_OFFICER)
    assert at.read_bytes().startswith(earlier)
    assert [one.role for one in verify_report(at, now=NOW).signers] == ["tester", "safety_officer"]


def test_through_a_link_to_the_report_it_signs_in_place(
    demo: Path, tess: ReportSigner, tmp_path: Path
) -> None:
    report, link = tmp_path / "report.pdf", tmp_path / "link.pdf"
    report.write_bytes(demo.read_bytes())
    link.symlink_to(report)
    sign(report, link, tess)
    assert verify_report(report, now=NOW).verdict is Verdict.PASS


@pytest.mark.parametrize("reason", ["", "geprüft, Ω ≤ 3", "漢字 (a) \\ \n <>", "x" * 3000])
def test_any_reason_comes_back_as_it_was(demo: Path, tess: ReportSigner, tmp_path: Path, reason: str) -> None:
    path = sign_report(demo, tmp_path / "s.pdf", tess, reason=reason, role=Role.TESTER, now=MADE_AT)
    assert verify_report(path, now=NOW).signers[0].reason == reason


def test_the_safety_officer_may_sign_alone(demo: Path, otto: ReportSigner, tmp_path: Path) -> None:
    path = sign(demo, tmp_path / "s.pdf", otto, Role.SAFETY_OFFICER)
    assert [signer.role for signer in verify_report(path, now=NOW).signers] == ["safety_officer"]


def refused(src: Path, dst: Path, signer: ReportSigner, role: Role = Role.TESTER) -> str:
    """Why it is not signed; what stands at the target, an earlier state of the report, stays as it was."""
    before = src.read_bytes()[:1000]
    dst.write_bytes(before)
    with pytest.raises(EvidenceError) as caught:
        sign(src, dst, signer, role)
    assert dst.read_bytes() == before
    assert [entry.name for entry in dst.parent.iterdir() if entry.suffix == ".part"] == []
    return str(caught.value)


def test_a_demo_key_needs_the_demo_line(plain: Path, tess: ReportSigner, tmp_path: Path) -> None:
    assert "SIGNED WITH A DEMO KEY" in refused(plain, tmp_path / "s.pdf", tess)


def test_a_demo_report_needs_a_demo_key(demo: Path, tmp_path: Path) -> None:
    assert "only a demo key" in refused(demo, tmp_path / "s.pdf", issued("Ann"))


def test_two_roles_need_two_persons(signed_once: Path, tess: ReportSigner, tmp_path: Path) -> None:
    assert "two persons" in refused(signed_once, tmp_path / "s.pdf", tess, Role.SAFETY_OFFICER)
    twin = make_demo_signer("Tess Tester", now=MADE_AT)
    assert "two persons" in refused(signed_once, tmp_path / "s.pdf", twin, Role.SAFETY_OFFICER)


def test_each_role_signs_once_and_the_officer_last(
    signed_once: Path, signed_twice: Path, otto: ReportSigner, tmp_path: Path
) -> None:
    assert "once" in refused(signed_once, tmp_path / "s.pdf", otto, Role.TESTER)
    third = make_demo_signer("Third", now=MADE_AT)
    for role in Role:
        assert "once" in refused(signed_twice, tmp_path / "s.pdf", third, role)


def test_a_changed_report_is_not_signed_over(signed_once: Path, otto: ReportSigner, tmp_path: Path) -> None:
    broken = tmp_path / "broken.pdf"
    data = bytearray(signed_once.read_bytes())
    data[5000] ^= 1
    broken.write_bytes(data)
    assert "changed" in refused(broken, tmp_path / "s.pdf", otto, Role.SAFETY_OFFICER)


def test_what_is_no_report_is_not_signed(tess: ReportSigner, tmp_path: Path) -> None:
    other = tmp_path / "other.pdf"
    pdf = pikepdf.new()
    pdf.add_blank_page()
    pdf.save(other)
    for junk in (other.read_bytes(), b"", b"not a PDF %%EOF\n", b"%PDF-1.7\n%%EOF\n", b"/ByteRange"):
        other.write_bytes(junk)
        assert "cannot be signed" in refused(other, tmp_path / "s.pdf", tess)


def test_a_report_saved_by_another_program_is_not_signed(
    demo: Path, tess: ReportSigner, tmp_path: Path
) -> None:
    """It could hold anything by now; pikepdf (QPDF) writes object streams and another header."""
    other = tmp_path / "other.pdf"
    with pikepdf.open(demo) as pdf:
        pdf.Root.AcroForm = pikepdf.Dictionary(Fields=pikepdf.Array())
        pdf.save(other)
    assert "cannot be signed" in refused(other, tmp_path / "s.pdf", tess)


@pytest.mark.parametrize("days", [-1, 31])
def test_a_certificate_out_of_its_time_does_not_sign(
    demo: Path, tess: ReportSigner, tmp_path: Path, days: int
) -> None:
    with pytest.raises(EvidenceError, match="valid from"):
        sign(demo, tmp_path / "s.pdf", tess, now=MADE_AT + timedelta(days=days))


def test_a_time_without_zone_is_refused(demo: Path, tess: ReportSigner, tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="time zone"):
        sign(demo, tmp_path / "s.pdf", tess, now=datetime(2026, 3, 4))  # noqa: DTZ001 - the point of it


def test_missing_files_give_one_clear_error(demo: Path, tess: ReportSigner, tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="cannot read"):
        sign(tmp_path / "none.pdf", tmp_path / "s.pdf", tess)
    with pytest.raises(EvidenceError, match="cannot write"):
        sign(demo, tmp_path / "no" / "such" / "s.pdf", tess)


def test_what_would_not_verify_is_not_written(
    demo: Path, tess: ReportSigner, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    true_append = sign_module._append
    monkeypatch.setattr(sign_module, "_append", lambda *args, **kw: true_append(*args, **kw) + b"\n")
    assert "does not verify" in refused(demo, tmp_path / "s.pdf", tess)
