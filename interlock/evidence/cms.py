"""The signature's value: every byte of it is either signed, fixed by this suite, or zero.

A CMS value (RFC 5652) has parts outside its signature: version, algorithm names, extra certificates, unsigned
attributes, lax encodings. Here the whole value is rebuilt from what the signature protects, and must come
out byte for byte the same.
"""

import hashlib
from dataclasses import dataclass

from asn1crypto import cms, core, tsp, x509

from interlock.evidence.refusal import Refused
from interlock.evidence.revisions import Revision

__all__ = ["SignatureValue", "read_value"]

_ATTRIBUTES = ("content_type", "message_digest", "signing_certificate_v2")


@dataclass(frozen=True, slots=True)
class SignatureValue:
    """The signer's certificate, and the digest of the covered bytes that was signed."""

    certificate: x509.Certificate
    digest: bytes

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the certificate, in hexadecimal digits."""
        return hashlib.sha256(self.certificate.dump()).hexdigest()


def read_value(revision: Revision) -> SignatureValue:
    """The value of a revision's signature; raises Refused unless it is canonical through and through."""
    length = _der_length(revision.contents)
    der, padding = revision.contents[:length], revision.contents[length:]
    if any(padding):
        raise Refused("bytes are hidden behind a signature's value")
    try:
        return _checked(der)
    except Refused:
        raise
    except Exception as error:  # on garbage the library raises what it likes: all of it refuses
        raise Refused(f"a signature's value cannot be read ({str(error)[:120]})") from error


def _der_length(contents: bytes) -> int:
    if len(contents) < 4 or contents[:2] != b"\x30\x82":  # a sequence of 256 to 65535 bytes
        raise Refused("a signature's value is not a CMS structure")
    return 4 + int.from_bytes(contents[2:4], "big")


def _checked(der: bytes) -> SignatureValue:
    info = cms.ContentInfo.load(der, strict=True)
    if info["content_type"].native != "signed_data":
        raise Refused("a signature's value is not signed data")
    signed = info["content"]
    if len(signed["signer_infos"]) != 1 or len(signed["certificates"]) != 1:
        raise Refused("a signature's value must hold one signer and that signer's certificate alone")
    certificate = signed["certificates"][0].chosen
    if not isinstance(certificate, x509.Certificate):
        raise Refused("a signature's value holds no usual certificate")
    certificate.native  # noqa: B018 - asn1crypto reads lazily; this makes it read all, here
    signer = signed["signer_infos"][0]
    attributes = {item["type"].native: item["values"] for item in signer["signed_attrs"]}
    if tuple(sorted(attributes)) != _ATTRIBUTES or len(signer["signed_attrs"]) != len(_ATTRIBUTES):
        raise Refused("a signature's value signs other attributes than a report's signature does")
    if _rebuilt(certificate, signer) != der:
        raise Refused("a signature's value has parts that the signature does not protect")
    _names_its_certificate(attributes["signing_certificate_v2"], certificate)
    return SignatureValue(certificate, attributes["message_digest"][0].native)


def _rebuilt(certificate: x509.Certificate, signer: cms.SignerInfo) -> bytes:
    """The only value that this suite writes for that certificate, those attributes and that signature."""
    signed_attributes = cms.CMSAttributes([_attribute(item) for item in signer["signed_attrs"]])
    sha256 = {"algorithm": "sha256"}
    info = cms.ContentInfo(
        {
            "content_type": "signed_data",
            "content": {
                "version": "v1",
                "digest_algorithms": [sha256],
                "encap_content_info": {"content_type": "data"},
                "certificates": [cms.CertificateChoices(name="certificate", value=certificate)],
                "signer_infos": [
                    {
                        "version": "v1",
                        "sid": _named_by(certificate),
                        "digest_algorithm": sha256,
                        "signature_algorithm": {"algorithm": "sha256_rsa"},
                        "signed_attrs": signed_attributes,
                        "signature": core.OctetString(signer["signature"].native),
                    }
                ],
            },
        }
    )
    return bytes(info.dump())


def _named_by(certificate: x509.Certificate) -> cms.SignerIdentifier:
    named = {"issuer": certificate.issuer, "serial_number": certificate.serial_number}
    return cms.SignerIdentifier(name="issuer_and_serial_number", value=cms.IssuerAndSerialNumber(named))


def _attribute(item: cms.CMSAttribute) -> cms.CMSAttribute:
    return cms.CMSAttribute({"type": item["type"].native, "values": item["values"]})


def _names_its_certificate(values: core.SetOf, certificate: x509.Certificate) -> None:
    """The signed attribute of ETSI EN 319 122-1, 5.2.2: it binds the very certificate, not only its key."""
    named: tsp.SigningCertificateV2 = values[0]
    hashes = [item["cert_hash"].native for item in named["certs"]]
    if hashes != [hashlib.sha256(certificate.dump()).digest()]:
        raise Refused("a signature was made with another certificate than the one that it carries")
