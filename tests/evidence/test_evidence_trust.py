"""Whose signature: nobody is taken for somebody without trust given beforehand, and a doubt is no pass."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from evidence_forge import append, issued
from evidence_material import MADE_AT

from interlock.evidence.identity import Trust
from interlock.evidence.keys import ReportSigner
from interlock.evidence.sign import Role, sign_report
from interlock.evidence.verification import Identity
from interlock.evidence.verify import verify_report
from interlock.verdict import EXIT_CODE, Verdict

Put = Callable[[bytes], Path]
NOW = MADE_AT + timedelta(hours=2)


@pytest.fixture(scope="module")
def authority() -> ReportSigner:
    return issued("Works authority", ca=True)


@pytest.fixture(scope="module")
def ann(authority: ReportSigner) -> ReportSigner:
    return issued("Ann Tester", issuer=authority)


@pytest.fixture(scope="module")
def by_ann(plain: Path, ann: ReportSigner) -> Path:
    return sign_report(
        plain, plain.with_name("by_ann.pdf"), ann, reason="tested", role=Role.TESTER, now=MADE_AT
    )


def _fingerprint(signer: ReportSigner) -> str:
    return signer.certificate.sha256.hex()


def test_without_trust_the_file_holds_but_nobody_is_known(by_ann: Path, ann: ReportSigner) -> None:
    got = verify_report(by_ann, now=NOW)
    assert got.verdict is Verdict.INCONCLUSIVE
    assert EXIT_CODE[got.verdict] == 3
    assert got.signers[0].identity is Identity.NOT_TRUSTED
    assert got.signers[0].certificate_sha256 == _fingerprint(ann)
    assert any("not a trusted identity" in reason for reason in got.reasons)


def test_a_pinned_certificate_or_a_trusted_issuer_makes_a_pass(
    by_ann: Path, ann: ReportSigner, authority: ReportSigner
) -> None:
    for trust in (
        Trust.of([ann.certificate]),
        Trust.of([authority.certificate]),
        Trust(fingerprints=frozenset({_fingerprint(ann)})),
    ):
        got = verify_report(by_ann, trusted=trust, now=NOW)
        assert got.verdict is Verdict.PASS
        assert got.signers[0].identity is Identity.TRUSTED


def test_trust_in_somebody_else_is_no_trust(by_ann: Path, tess: ReportSigner) -> None:
    for trust in (Trust(), Trust.of([issued("Works authority", ca=True).certificate, tess.certificate])):
        assert verify_report(by_ann, trusted=trust, now=NOW).verdict is Verdict.INCONCLUSIVE


def test_asked_for_trust_a_demo_key_does_not_pass(signed_once: Path, authority: ReportSigner) -> None:
    got = verify_report(signed_once, trusted=Trust.of([authority.certificate]), now=NOW)
    assert got.verdict is Verdict.INCONCLUSIVE
    assert got.signers[0].identity is Identity.DEMO


def test_one_trusted_signer_does_not_carry_the_other(by_ann: Path, ann: ReportSigner, tmp_path: Path) -> None:
    both = tmp_path / "both.pdf"
    sign_report(by_ann, both, issued("Bob"), reason="read", role=Role.SAFETY_OFFICER, now=MADE_AT)
    got = verify_report(both, trusted=Trust.of([ann.certificate]), now=NOW)
    assert [signer.identity for signer in got.signers] == [Identity.TRUSTED, Identity.NOT_TRUSTED]
    assert got.verdict is Verdict.INCONCLUSIVE


def test_an_expired_certificate_still_holds_if_pinned_but_not_through_its_issuer(
    by_ann: Path, ann: ReportSigner, authority: ReportSigner
) -> None:
    in_five_years = MADE_AT + timedelta(days=5 * 365)
    pinned = verify_report(by_ann, trusted=Trust.of([ann.certificate]), now=in_five_years)
    through = verify_report(by_ann, trusted=Trust.of([authority.certificate]), now=in_five_years)
    assert (pinned.verdict, through.verdict) == (Verdict.PASS, Verdict.INCONCLUSIVE)


@pytest.mark.parametrize("at", [datetime(2001, 1, 1, tzinfo=UTC), datetime(2035, 1, 1, tzinfo=UTC)])
def test_a_claimed_time_outside_the_certificates_life_is_a_doubt(
    plain: Path, ann: ReportSigner, put: Put, at: datetime
) -> None:
    path = put(append(plain.read_bytes(), ann, field="tester", at=at))
    late = datetime(2036, 1, 1, tzinfo=UTC)
    got = verify_report(path, trusted=Trust.of([ann.certificate]), now=late)
    assert got.verdict is Verdict.INCONCLUSIVE
    assert "not valid at the claimed time" in " ".join(got.reasons)


def test_a_claimed_time_in_the_future_is_a_doubt(by_ann: Path, ann: ReportSigner) -> None:
    before = MADE_AT - timedelta(hours=1)
    got = verify_report(by_ann, trusted=Trust.of([ann.certificate]), now=before)
    assert got.verdict is Verdict.INCONCLUSIVE
    assert "future" in " ".join(got.reasons)


def test_a_signature_older_than_the_one_it_covers_is_a_doubt(
    signed_once: Path, otto: ReportSigner, put: Put
) -> None:
    path = put(append(signed_once.read_bytes(), otto, at=MADE_AT - timedelta(seconds=30)))
    got = verify_report(path, now=NOW)
    assert got.verdict is Verdict.INCONCLUSIVE
    assert "older" in " ".join(got.reasons)


def test_a_certificate_that_is_not_for_signing_is_a_doubt(
    plain: Path, authority: ReportSigner, put: Put
) -> None:
    eve = issued("Eve", issuer=authority, usage=False)
    path = put(append(plain.read_bytes(), eve, field="tester"))
    got = verify_report(path, trusted=Trust.of([authority.certificate]), now=NOW)
    assert got.verdict is Verdict.INCONCLUSIVE


def test_a_tester_whose_certificate_is_no_authority_vouches_for_nobody(
    plain: Path, ann: ReportSigner, authority: ReportSigner, put: Put
) -> None:
    mallory = issued("Mallory", issuer=ann)
    path = put(append(plain.read_bytes(), mallory, field="tester"))
    got = verify_report(path, trusted=Trust.of([authority.certificate]), now=NOW)
    assert got.verdict is Verdict.INCONCLUSIVE
