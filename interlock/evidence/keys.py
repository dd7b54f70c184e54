"""Keys that sign reports: from a PKCS#12 file, or a demo key made on the spot that proves no identity."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from asn1crypto import keys as asn1_keys
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import pkcs12

from interlock.errors import EvidenceError
from interlock.evidence.atomic import read_whole

__all__ = ["DEMO_ORGANISATION", "ReportSigner", "is_demo_certificate", "load_signer", "make_demo_signer"]

DEMO_ORGANISATION: Final = "DEMO KEY - proves no identity"
"""Organisation in the subject of every demo certificate; what is called so is never taken for a person."""

_DEMO_BITS: Final = 3072  # BSI TR-02102-1: RSA of 3000 bits or more
_LEAST_BITS: Final = 2048  # NIST SP 800-131A Rev. 2: below this, disallowed
_DEMO_DAYS: Final = 30
_LONGEST_NAME: Final = 64


@dataclass(frozen=True, slots=True)
class ReportSigner:
    """A certificate with its private key; the key shows in no representation."""

    certificate: asn1_x509.Certificate
    key: asn1_keys.PrivateKeyInfo = field(repr=False)

    @property
    def is_demo(self) -> bool:
        """Whether this is a demo key."""
        return is_demo_certificate(self.certificate)


def is_demo_certificate(certificate: asn1_x509.Certificate) -> bool:
    """Whether the certificate is issued by itself and calls itself a demo."""
    own_issuer: bool = certificate.subject.dump() == certificate.issuer.dump()
    return own_issuer and certificate.subject.native.get("organization_name") == DEMO_ORGANISATION


def make_demo_signer(name: str, *, now: datetime) -> ReportSigner:
    """A fresh RSA key with a certificate of its own making, marked as a demo, good for a month.

    It shows that a file was not changed since; it shows nothing about who signed. Raises EvidenceError if the
    name is empty or longer than the 64 characters of a common name (RFC 5280, appendix A.1).
    """
    if not 1 <= len(name.strip()) <= len(name) <= _LONGEST_NAME:
        raise EvidenceError(f"{name[:80]!r}: not the name of a signer; write 1 to {_LONGEST_NAME} characters")
    key = rsa.generate_private_key(public_exponent=65537, key_size=_DEMO_BITS)
    subject = x509.Name(
        [
            x509.NameAttribute(x509.NameOID.ORGANIZATION_NAME, DEMO_ORGANISATION),
            x509.NameAttribute(x509.NameOID.COMMON_NAME, name),
        ]
    )
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(minutes=1))
        .not_valid_after(now + timedelta(days=_DEMO_DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_signing_only(), critical=True)
    )
    return _signer(builder.sign(key, hashes.SHA256()), key)


def _signing_only() -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def load_signer(path: Path, passphrase: bytes | None) -> ReportSigner:
    """The signer held by a PKCS#12 file (.p12, .pfx).

    Pass the passphrase from a file, the environment or a prompt, never from the command line. Raises
    EvidenceError if the file cannot be opened with it, holds no key, or a key that this suite refuses:
    RSA of 2048 bits or more is needed (its PKCS #1 v1.5 signature of a text is unique, so no byte of it
    can be changed).
    """
    data = read_whole(Path(path))
    try:
        key, certificate, _others = pkcs12.load_key_and_certificates(data, passphrase)
    except (ValueError, UnsupportedAlgorithm) as error:
        raise EvidenceError(
            f"{path}: cannot be opened: {error}; check that it is a PKCS#12 file, and its passphrase"
        ) from error
    if key is None or certificate is None:
        raise EvidenceError(f"{path}: holds no private key with its certificate; export both into it")
    if not isinstance(key, rsa.RSAPrivateKey) or key.key_size < _LEAST_BITS:
        raise EvidenceError(f"{path}: not an RSA key of {_LEAST_BITS} bits or more; get one issued")
    if key.public_key() != certificate.public_key():
        raise EvidenceError(
            f"{path}: its certificate is of another key; export the pair that belongs together"
        )
    return _signer(certificate, key)


def _signer(certificate: x509.Certificate, key: rsa.RSAPrivateKey) -> ReportSigner:
    return ReportSigner(
        asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER)),
        asn1_keys.PrivateKeyInfo.load(
            key.private_bytes(
                serialization.Encoding.DER,
                serialization.PrivateFormat.PKCS8,
                serialization.NoEncryption(),
            )
        ),
    )
