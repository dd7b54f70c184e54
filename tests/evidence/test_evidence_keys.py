"""Keys: what a PKCS#12 file must hold, and what a demo key says of itself."""

from datetime import UTC, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec, rsa
from cryptography.hazmat.primitives.serialization import pkcs12
from evidence_forge import issued
from evidence_material import MADE_AT, sample

from interlock.errors import EvidenceError
from interlock.evidence.document import write_report
from interlock.evidence.identity import Trust
from interlock.evidence.keys import DEMO_ORGANISATION, ReportSigner, load_signer, make_demo_signer
from interlock.evidence.sign import Role, sign_report
from interlock.evidence.verify import verify_report
from interlock.verdict import Verdict

WORD = b"correct horse"


def archive(
    path: Path, key: object, certificate: object, word: bytes | None = WORD, extra: object = None
) -> Path:
    locked = serialization.BestAvailableEncryption(word) if word else serialization.NoEncryption()
    path.write_bytes(pkcs12.serialize_key_and_certificates(b"ann", key, certificate, extra, locked))
    return path


def opened(signer: ReportSigner) -> tuple[object, x509.Certificate]:
    key = serialization.load_der_private_key(signer.key.dump(), None)
    return key, x509.load_der_x509_certificate(signer.certificate.dump())


@pytest.fixture(scope="module")
def ann() -> ReportSigner:
    return issued("Ann Tester")


def test_a_pkcs12_file_signs_a_report_that_verifies(ann: ReportSigner, tmp_path: Path) -> None:
    """RFC 7292; also with an issuer's certificate in the file, which does not go into the report."""
    extra = [opened(issued("Authority", ca=True))[1]]
    signer = load_signer(archive(tmp_path / "ann.p12", *opened(ann), extra=extra), WORD)
    report = write_report(tmp_path / "report.pdf", sample(), made_at=MADE_AT)
    sign_report(report, report, signer, reason="tested", role=Role.TESTER, now=MADE_AT)
    got = verify_report(report, trusted=Trust.of([ann.certificate]), now=MADE_AT)
    assert got.verdict is Verdict.PASS
    assert not signer.is_demo


def test_a_file_without_passphrase(ann: ReportSigner, tmp_path: Path) -> None:
    signer = load_signer(archive(tmp_path / "ann.p12", *opened(ann), word=None), None)
    assert signer.certificate.dump() == ann.certificate.dump()


@pytest.mark.parametrize("word", [b"wrong", b"", None])
def test_a_wrong_passphrase_is_one_clear_error(ann: ReportSigner, tmp_path: Path, word: bytes | None) -> None:
    path = archive(tmp_path / "ann.p12", *opened(ann))
    with pytest.raises(EvidenceError, match="passphrase") as caught:
        load_signer(path, word)
    assert str(path) in str(caught.value)
    assert WORD.decode() not in str(caught.value)


@pytest.mark.parametrize("junk", [b"", b"junk", b"\x30\x82\x01\x00" + b"\0" * 256])
def test_what_is_no_pkcs12_file(tmp_path: Path, junk: bytes) -> None:
    path = tmp_path / "x.p12"
    path.write_bytes(junk)
    with pytest.raises(EvidenceError):
        load_signer(path, WORD)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(EvidenceError, match="cannot read"):
        load_signer(tmp_path / "none.p12", WORD)


def test_a_file_without_key(ann: ReportSigner, tmp_path: Path) -> None:
    _, certificate = opened(ann)
    with pytest.raises(EvidenceError, match="no private key"):
        load_signer(archive(tmp_path / "c.p12", None, None, extra=[certificate]), WORD)


def _own_certificate(key: object) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Ann")])
    builder = x509.CertificateBuilder().subject_name(name).issuer_name(name).serial_number(7)
    builder = builder.not_valid_before(MADE_AT).not_valid_after(MADE_AT + timedelta(days=9))
    return builder.public_key(key.public_key()).sign(key, hashes.SHA256())


@pytest.mark.parametrize("kind", ["EC", "RSA 1024"])
def test_a_key_of_a_kind_or_size_that_is_refused(tmp_path: Path, kind: str) -> None:
    """RSA below 2048 bits is disallowed by NIST SP 800-131A Rev. 2, table 2; ECDSA values can be altered."""
    weak = 1024
    key = ec.generate_private_key(ec.SECP256R1()) if kind == "EC" else rsa.generate_private_key(65537, weak)
    with pytest.raises(EvidenceError, match="2048"):
        load_signer(archive(tmp_path / "k.p12", key, _own_certificate(key)), WORD)


def test_the_private_key_shows_in_no_representation(tess: ReportSigner) -> None:
    assert "key" not in repr(tess).replace("keys", "").lower().split("certificate")[0]
    assert "PrivateKeyInfo" not in repr(tess)


# demo keys


def test_a_demo_certificate_calls_itself_one(tess: ReportSigner) -> None:
    """Read by the cryptography library: RFC 5280 self-issued, no authority, for signing only."""
    _, certificate = opened(tess)
    organisation = certificate.subject.get_attributes_for_oid(x509.NameOID.ORGANIZATION_NAME)[0].value
    assert organisation == DEMO_ORGANISATION
    assert certificate.issuer == certificate.subject
    assert not certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    assert usage.digital_signature
    assert not usage.key_cert_sign
    assert certificate.not_valid_after_utc - MADE_AT.astimezone(UTC) == timedelta(days=30)
    assert tess.is_demo


def test_each_demo_key_is_a_new_one() -> None:
    one, two = (make_demo_signer("Same name", now=MADE_AT) for _ in range(2))
    assert one.certificate.public_key.dump() != two.certificate.public_key.dump()


def test_a_demo_key_stays_a_demo_key_in_a_pkcs12_file(tess: ReportSigner, tmp_path: Path) -> None:
    assert load_signer(archive(tmp_path / "d.p12", *opened(tess)), WORD).is_demo


@pytest.mark.parametrize("name", ["", "  ", "x" * 65])
def test_a_name_that_no_certificate_can_carry(name: str) -> None:
    """RFC 5280, appendix A.1: ub-common-name is 64."""
    with pytest.raises(EvidenceError, match="64"):
        make_demo_signer(name, now=MADE_AT)
