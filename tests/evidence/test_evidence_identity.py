"""What a reader may name as trusted, and what is refused."""

from pathlib import Path

import pytest
from asn1crypto import pem
from hypothesis import given
from hypothesis import strategies as st

from interlock.errors import EvidenceError
from interlock.evidence.identity import Trust, load_trust
from interlock.evidence.keys import ReportSigner


def test_certificates_in_pem_and_der_and_several_in_one_file(
    tess: ReportSigner, otto: ReportSigner, tmp_path: Path
) -> None:
    armoured = [pem.armor("CERTIFICATE", signer.certificate.dump()) for signer in (tess, otto)]
    (tmp_path / "both.pem").write_bytes(b"".join(armoured))
    (tmp_path / "one.der").write_bytes(tess.certificate.dump())
    both = load_trust([str(tmp_path / "both.pem")])
    one = load_trust([str(tmp_path / "one.der")])
    assert both.pins(tess.certificate) and both.pins(otto.certificate)
    assert one.pins(tess.certificate) and not one.pins(otto.certificate)


def test_a_digest_in_the_ways_in_which_programs_print_it(tess: ReportSigner, otto: ReportSigner) -> None:
    plain = tess.certificate.sha256.hex()
    coloned = ":".join(plain[i : i + 2] for i in range(0, 64, 2)).upper()
    for text in (plain, plain.upper(), coloned, f" {plain}\n"):
        trust = load_trust([text])
        assert trust.pins(tess.certificate)
        assert not trust.pins(otto.certificate)


def test_no_trust_pins_nobody(tess: ReportSigner) -> None:
    assert not Trust().pins(tess.certificate)
    assert not load_trust([]).pins(tess.certificate)


@given(st.integers(0, 63), st.sampled_from("0123456789abcdef"))
def test_a_digest_with_another_digit_pins_nobody(tess: ReportSigner, place: int, digit: str) -> None:
    true = tess.certificate.sha256.hex()
    text = true[:place] + digit + true[place + 1 :]
    assert load_trust([text]).pins(tess.certificate) == (text == true)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"junk",
        b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n",
        b"\x30\x03\x02\x01\x05",
    ],
)
def test_a_file_that_is_no_certificate(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "c.pem"
    path.write_bytes(content)
    with pytest.raises(EvidenceError, match="not a certificate"):
        load_trust([str(path)])


@pytest.mark.parametrize("text", ["no-such-file.pem", "ab" * 31, "xyz"])
def test_what_is_neither_a_file_nor_a_digest(text: str) -> None:
    with pytest.raises(EvidenceError, match="cannot read"):
        load_trust([text])
