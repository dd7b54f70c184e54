"""Signing: PAdES level B-B, offline, one appended revision a signature, each covering the whole file so far.

There is no time-stamp authority, so the time of signing is what the signer's clock says (ETSI EN 319 142-1,
baseline level B-B). The result is verified before it takes its place: no file is written that `verify` refuses.
"""

import asyncio
from datetime import datetime
from enum import StrEnum
from io import BytesIO
from pathlib import Path
from typing import Final

from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign.fields import SigSeedSubFilter
from pyhanko.sign.signers import SimpleSigner
from pyhanko.sign.signers.cms_embedder import PdfCMSEmbedder, SigIOSetup, SigObjSetup
from pyhanko.sign.signers.pdf_byterange import SignatureObject
from pyhanko_certvalidator.registry import SimpleCertificateStore

from interlock.errors import EvidenceError
from interlock.evidence.atomic import read_whole, write_whole
from interlock.evidence.check import Checked, check_signed, check_unsigned
from interlock.evidence.keys import ReportSigner
from interlock.evidence.marks import DEMO_LINE
from interlock.evidence.refusal import Refused

__all__ = ["Role", "sign_report"]

_RESERVED: Final = 16_384  # hexadecimal digits for a signature's value


class Role(StrEnum):
    """In which role somebody signs; each role signs once, the safety officer last."""

    TESTER = "tester"
    SAFETY_OFFICER = "safety_officer"


def sign_report(
    src: Path, dst: Path, signer: ReportSigner, *, reason: str, role: Role, now: datetime
) -> Path:
    """Sign the report at `src` into `dst` (which may be the same); returns `dst`.

    Raises EvidenceError, and writes nothing, if `src` is no report of this suite or was changed since it was
    signed; if a demo key meets a report that is not marked as a demo on its pages, or another key meets one
    that is; if the role or the person has signed already, or the safety officer has; if the certificate is
    not valid `now`; if at `dst` stands what would be lost: anything but `src`, or an earlier state of it.
    """
    data = read_whole(Path(src))
    if now.tzinfo is None:
        raise EvidenceError("the time of signing has no time zone; give one, such as UTC")
    try:
        before = check_signed(data) if b"/ByteRange" in data else check_unsigned(data)
    except Refused as refused:
        raise EvidenceError(f"{src}: cannot be signed: {refused}; write the report anew") from refused
    _allow(Path(src), before, signer, role, now)
    _keep_other(Path(dst), data)
    signed = _append(data, signer, reason=reason, role=role, now=now)
    try:
        check_signed(signed)
    except Refused as refused:  # a fault of this suite or of a library; better no file than such a one
        raise EvidenceError(
            f"{dst}: the new signature does not verify: {refused}; nothing written"
        ) from refused
    write_whole(Path(dst), signed)
    return Path(dst)


def _keep_other(dst: Path, data: bytes) -> None:
    """A signature is added at the end, so whatever the report begins with is not lost by writing over it."""
    if dst.is_file() and not data.startswith(there := read_whole(dst)):
        what = "another signed document" if b"/ByteRange" in there else "another file"
        raise EvidenceError(f"{dst}: {what} stands there and is not overwritten; name a new file")


def _allow(src: Path, before: Checked, signer: ReportSigner, role: Role, now: datetime) -> None:
    if signer.is_demo and not before.is_demo:
        raise EvidenceError(
            f"{src}: its pages lack the line {DEMO_LINE!r}, so a demo key must not sign it; "
            "write the report as a demo, or sign with a real key"
        )
    if before.is_demo and not signer.is_demo:
        raise EvidenceError(
            f"{src}: is marked as a demo, so only a demo key may sign it; write it as evidence"
        )
    roles = [signature.role for signature in before.signatures]
    if role in roles or Role.SAFETY_OFFICER in roles:
        raise EvidenceError(
            f"{src}: already signed as {' and '.join(roles)}; each role signs once, the safety officer last"
        )
    if any(signature.is_by(signer.certificate) for signature in before.signatures):
        raise EvidenceError(f"{src}: this person or key has signed it already; two roles need two persons")
    if not signer.certificate.not_valid_before <= now <= signer.certificate.not_valid_after:
        raise EvidenceError(
            f"the certificate is valid from {signer.certificate.not_valid_before} to "
            f"{signer.certificate.not_valid_after} only, not at {now}; get a new one"
        )


def _append(data: bytes, signer: ReportSigner, *, reason: str, role: Role, now: datetime) -> bytes:
    writer = IncrementalPdfFileWriter(BytesIO(data))
    embedder = PdfCMSEmbedder().write_cms(field_name=str(role), writer=writer)
    next(embedder)
    name = signer.certificate.subject.native.get("common_name")
    place = SignatureObject(
        timestamp=now,
        subfilter=SigSeedSubFilter.PADES,
        reason=reason,
        name=name if isinstance(name, str) else None,
        bytes_reserved=_RESERVED,
    )
    embedder.send(SigObjSetup(sig_placeholder=place))
    prepared, out = embedder.send(SigIOSetup(md_algorithm="sha256"))
    only_its_own = SimpleCertificateStore()  # type: ignore[no-untyped-call] # the library leaves it untyped
    mechanism = SimpleSigner(signer.certificate, signer.key, only_its_own)
    value = asyncio.run(mechanism.async_sign(prepared.document_digest, "sha256", use_pades=True))
    embedder.send(value)
    return bytes(out.getvalue())
