"""Files that a forger with a key of his own could make: signatures that are sound, over something unsound."""

import asyncio
import hashlib
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO
from typing import Any

from asn1crypto import cms, keys
from asn1crypto import x509 as asn1_x509
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from evidence_material import MADE_AT
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign.fields import SigFieldSpec, SigSeedSubFilter
from pyhanko.sign.signers import SimpleSigner
from pyhanko.sign.signers.cms_embedder import PdfCMSEmbedder, SigIOSetup, SigObjSetup
from pyhanko.sign.signers.pdf_byterange import SignatureObject
from pyhanko_certvalidator.registry import SimpleCertificateStore

from interlock.evidence.keys import ReportSigner

_RANGE = re.compile(rb"/ByteRange \[(\d+) (\d+) (\d+) (\d+)\]( *)")


def _mechanism(signer: ReportSigner) -> SimpleSigner:
    return SimpleSigner(signer.certificate, signer.key, SimpleCertificateStore())


def cms_over(digest: bytes, signer: ReportSigner, md: str = "sha256") -> cms.ContentInfo:
    """A sound CMS signature over a digest."""
    return asyncio.run(_mechanism(signer).async_sign(digest, md, use_pades=True))


def append(
    data: bytes,
    signer: ReportSigner,
    *,
    field: str = "safety_officer",
    change: Callable[[IncrementalPdfFileWriter], None] = lambda _writer: None,
    box: tuple[int, int, int, int] | None = None,
    md: str = "sha256",
    subfilter: SigSeedSubFilter = SigSeedSubFilter.PADES,
    at: datetime = MADE_AT,
) -> bytes:
    """One more revision with a sound signature, and whatever else `change` does to the file."""
    writer = IncrementalPdfFileWriter(BytesIO(data))
    spec = SigFieldSpec(sig_field_name=field, box=box)
    embedder = PdfCMSEmbedder(new_field_spec=spec).write_cms(field_name=field, writer=writer)
    next(embedder)
    change(writer)
    place = SignatureObject(
        timestamp=at, subfilter=subfilter, reason="forged", name="F", bytes_reserved=16384
    )
    embedder.send(SigObjSetup(sig_placeholder=place))
    prepared, out = embedder.send(SigIOSetup(md_algorithm=md))
    embedder.send(cms_over(prepared.document_digest, signer, md))
    return bytes(out.getvalue())


def hole(data: bytes) -> tuple[int, int]:
    """Where the last signature's value stands, with its delimiters."""
    last = list(_RANGE.finditer(data))[-1]
    return int(last[2]), int(last[3])


def with_value(data: bytes, value: bytes, at: tuple[int, int] | None = None) -> bytes:
    """The file with another last signature value, padded with zeros."""
    start, end = at or hole(data)
    room = end - start - 2
    return data[: start + 1] + value.hex().upper().encode().ljust(room, b"0") + data[end - 1 :]


def last_value(data: bytes) -> bytes:
    """The last signature's value, without its padding."""
    start, end = hole(data)
    raw = bytes.fromhex(data[start + 1 : end - 1].decode())
    return raw[: 4 + int.from_bytes(raw[2:4], "big")]


def with_range(data: bytes, stated: tuple[int, int, int, int], signer: ReportSigner) -> bytes:
    """The file whose last signature truly covers the stated range and no more."""
    place = hole(data)
    last = list(_RANGE.finditer(data))[-1]
    text = b"/ByteRange [%d %d %d %d]" % stated
    start, end = last.span()
    data = data[:start] + text.ljust(end - start) + data[end:]
    covered = data[stated[0] : stated[0] + stated[1]] + data[stated[2] : stated[2] + stated[3]]
    return with_value(data, cms_over(hashlib.sha256(covered).digest(), signer).dump(), place)


def changed_value(data: bytes, change: Callable[[Any], None]) -> bytes:
    """The file with something changed in its last signature's value that the signature does not protect."""
    info = cms.ContentInfo.load(last_value(data))
    change(info["content"])
    return with_value(data, info.dump(force=True))


def issued(
    name: str,
    *,
    issuer: ReportSigner | None = None,
    begins: datetime = MADE_AT - timedelta(days=30),
    ends: datetime = MADE_AT + timedelta(days=365),
    ca: bool = False,
    usage: bool = True,
) -> ReportSigner:
    """A real (not demo) key with a certificate, of its own or of an issuer's making."""
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    by, by_key = subject, key
    if issuer is not None:
        by = x509.load_der_x509_certificate(issuer.certificate.dump()).subject
        loaded = serialization.load_der_private_key(issuer.key.dump(), None)
        assert isinstance(loaded, rsa.RSAPrivateKey)
        by_key = loaded
    builder = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(by)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(ends)
        .add_extension(x509.BasicConstraints(ca=ca, path_length=None), critical=True)
        .add_extension(
            x509.KeyUsage(
                digital_signature=usage,
                content_commitment=usage,
                key_encipherment=not usage,
                data_encipherment=False,
                key_agreement=False,
                key_cert_sign=ca,
                crl_sign=ca,
                encipher_only=False,
                decipher_only=False,
            ),
            critical=True,
        )
    )
    return as_signer(builder.sign(by_key, hashes.SHA256()), key)


def as_signer(certificate: x509.Certificate, key: rsa.RSAPrivateKey) -> ReportSigner:
    """A signer from a certificate and key."""
    return ReportSigner(
        asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER)),
        keys.PrivateKeyInfo.load(
            key.private_bytes(
                serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
            )
        ),
    )
