"""Whose signature is it? Only a certificate that the reader trusts beforehand says so."""

import hashlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from asn1crypto import pem, x509

from interlock.errors import EvidenceError
from interlock.evidence.atomic import read_whole

__all__ = ["Trust", "load_trust"]

_SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Trust:
    """What the reader trusts: certificates (a signer's own or an issuer's), and digests of signers' own."""

    certificates: tuple[x509.Certificate, ...] = ()
    fingerprints: frozenset[str] = frozenset()  # SHA-256 of a signer's certificate, lower case

    @classmethod
    def of(cls, certificates: Iterable[x509.Certificate]) -> "Trust":
        """Trust in these certificates."""
        return cls(tuple(certificates))

    def pins(self, certificate: x509.Certificate) -> bool:
        """Whether this very certificate is trusted, not only through its issuer."""
        digest = hashlib.sha256(certificate.dump()).hexdigest()
        own = {hashlib.sha256(known.dump()).hexdigest() for known in self.certificates}
        return digest in self.fingerprints | own


def load_trust(given: Iterable[str]) -> Trust:
    """Trust from what a user names: certificate files (PEM or DER), or SHA-256 digests of certificates.

    A digest is 64 hexadecimal digits; colons and spaces between them do not matter. Raises EvidenceError
    for anything else.
    """
    certificates: list[x509.Certificate] = []
    fingerprints: set[str] = set()
    for text in given:
        digest = re.sub(r"[\s:]", "", text).lower()
        if _SHA256.fullmatch(digest):
            fingerprints.add(digest)
        else:
            certificates += _from_file(Path(text))
    return Trust(tuple(certificates), frozenset(fingerprints))


def _from_file(path: Path) -> list[x509.Certificate]:
    data = read_whole(path)
    try:
        parts = [der for _, _, der in pem.unarmor(data, multiple=True)] if pem.detect(data) else [data]
        found = [x509.Certificate.load(der, strict=True) for der in parts]
        for certificate in found:
            certificate.native  # noqa: B018 - asn1crypto reads lazily; this makes it read all
    except (ValueError, TypeError, KeyError) as error:
        raise EvidenceError(
            f"{path}: not a certificate in PEM or DER ({error}); give one, or its SHA-256"
        ) from error
    return found
