"""The signature's value: what the signature does not protect must be what this suite writes, byte for byte."""

import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from asn1crypto import algos, cms, core
from evidence_forge import append, as_signer, changed_value, cms_over, hole, issued, last_value, with_value
from needed import need
from pyhanko.sign.fields import SigSeedSubFilter

from interlock.evidence.check import check_signed
from interlock.evidence.cms import read_value
from interlock.evidence.keys import ReportSigner
from interlock.evidence.refusal import Refused
from interlock.evidence.revisions import split


def refusal(data: bytes) -> str:
    with pytest.raises(Refused) as caught:
        check_signed(data)
    return str(caught.value)


def test_the_value_names_the_signers_certificate(signed_once: Path, tess: ReportSigner) -> None:
    value = read_value(split(signed_once.read_bytes())[0])
    assert value.certificate.dump() == tess.certificate.dump()
    assert value.fingerprint == tess.certificate.sha256.hex()


def test_openssl_accepts_the_signature(signed_twice: Path, tmp_path: Path) -> None:
    """OpenSSL's own CMS implementation (RFC 5652), over the bytes that the ByteRange names."""
    need("openssl")
    data = signed_twice.read_bytes()
    for revision in split(data):
        length = 4 + int.from_bytes(revision.contents[2:4], "big")
        (tmp_path / "value.der").write_bytes(revision.contents[:length])
        (tmp_path / "covered.bin").write_bytes(b"".join(revision.covered(data)))
        command = ["openssl", "cms", "-verify", "-inform", "DER", "-in", "value.der", "-binary"]
        command += ["-content", "covered.bin", "-noverify", "-out", "out.bin"]
        done = subprocess.run(command, cwd=tmp_path, capture_output=True, check=False)
        assert done.returncode == 0, done.stderr


def _version(content: Any) -> None:
    content["version"] = "v3"


def _signer_version(content: Any) -> None:
    content["signer_infos"][0]["version"] = "v3"


def _second_digest(content: Any) -> None:
    content["digest_algorithms"].append(algos.DigestAlgorithm({"algorithm": "sha512"}))


def _without_parameters(content: Any) -> None:
    named = algos.DigestAlgorithm.load(
        bytes.fromhex("300b0609608648016503040201")
    )  # RFC 5754, 2: as good as NULL
    content["digest_algorithms"] = cms.DigestAlgorithms([named])


def _unsigned_attribute(content: Any) -> None:
    hidden = cms.CMSAttribute({"type": "1.2.3.4", "values": [core.OctetString(b"hidden")]})
    content["signer_infos"][0]["unsigned_attrs"] = cms.CMSAttributes([hidden])


def _no_certificate(content: Any) -> None:
    content["certificates"] = cms.CertificateSet([])


def _no_signer(content: Any) -> None:
    content["signer_infos"] = cms.SignerInfos([])


def _same_signer_twice(content: Any) -> None:
    content["signer_infos"].append(content["signer_infos"][0].copy())


def _embedded_content(content: Any) -> None:
    content["encap_content_info"] = cms.ContentInfo(
        {"content_type": "data", "content": core.OctetString(b"hidden")}
    )


def _signature_with_leading_zero(content: Any) -> None:
    signer = content["signer_infos"][0]
    signer["signature"] = core.OctetString(b"\0" + signer["signature"].native)


CHANGES = [
    _version,
    _signer_version,
    _second_digest,
    _without_parameters,
    _unsigned_attribute,
    _no_certificate,
    _no_signer,
    _same_signer_twice,
    _embedded_content,
    _signature_with_leading_zero,
]


@pytest.mark.parametrize("change", CHANGES)
def test_a_change_outside_the_signature_is_refused(signed_once: Path, change: Callable[[Any], None]) -> None:
    changed = changed_value(signed_once.read_bytes(), change)
    assert changed != signed_once.read_bytes()
    refusal(changed)


def test_rewriting_the_value_unchanged_changes_nothing(signed_once: Path) -> None:
    """So that the test above fails for the reason that it names."""
    assert changed_value(signed_once.read_bytes(), lambda _content: None) == signed_once.read_bytes()


def test_a_second_certificate_is_refused(signed_once: Path) -> None:
    def add(content: Any) -> None:
        extra = cms.CertificateChoices(name="certificate", value=issued("Somebody").certificate)
        content["certificates"].append(extra)

    assert "alone" in refusal(changed_value(signed_once.read_bytes(), add))


def test_a_certificate_of_the_same_key_in_its_place_is_refused(signed_once: Path, tess: ReportSigner) -> None:
    """The signed attribute binds the certificate itself (ETSI EN 319 122-1, 5.2.2), not only the key."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization

    old = x509.load_der_x509_certificate(tess.certificate.dump())
    key = serialization.load_der_private_key(tess.key.dump(), None)
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Somebody else")])
    renamed = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(old.issuer)
        .public_key(old.public_key())
        .serial_number(old.serial_number)
        .not_valid_before(old.not_valid_before_utc)
        .not_valid_after(old.not_valid_after_utc)
        .sign(key, hashes.SHA256())
    )
    swapped = as_signer(renamed, key).certificate

    def swap(content: Any) -> None:
        content["certificates"] = cms.CertificateSet(
            [cms.CertificateChoices(name="certificate", value=swapped)]
        )

    assert "another certificate" in refusal(changed_value(signed_once.read_bytes(), swap))


def test_bytes_behind_the_value_are_refused(signed_once: Path) -> None:
    data = signed_once.read_bytes()
    _, end = hole(data)
    assert "hidden" in refusal(data[: end - 3] + b"41" + data[end - 1 :])


def test_indefinite_length_is_refused(signed_once: Path) -> None:
    """BER, not DER (ITU-T X.690, 8.1.3.6): the same meaning in other bytes."""
    value = last_value(signed_once.read_bytes())
    refusal(with_value(signed_once.read_bytes(), b"\x30\x80" + value[4:] + b"\0\0"))


def test_a_longer_length_field_is_refused(signed_once: Path) -> None:
    value = last_value(signed_once.read_bytes())
    refusal(with_value(signed_once.read_bytes(), b"\x30\x83\0" + value[2:]))


@pytest.mark.parametrize("value", [b"", b"\x30\x00", b"\x30\x82\x00\x00", b"\x30\x82\xff\xff" + b"\0" * 50])
def test_no_value_is_refused(signed_once: Path, value: bytes) -> None:
    refusal(with_value(signed_once.read_bytes(), value))


def test_another_digest_is_refused(demo: Path, tess: ReportSigner) -> None:
    assert "another way" in refusal(append(demo.read_bytes(), tess, field="tester", md="sha512"))


def test_another_kind_of_signature_is_refused(demo: Path, tess: ReportSigner) -> None:
    kind = SigSeedSubFilter.ADOBE_PKCS7_DETACHED
    assert "built" in refusal(append(demo.read_bytes(), tess, field="tester", subfilter=kind))


def test_a_sound_signature_over_other_bytes_is_refused(signed_once: Path, tess: ReportSigner) -> None:
    other = cms_over(b"\x11" * 32, tess).dump()
    assert "changed after" in refusal(with_value(signed_once.read_bytes(), other))
