"""Is every byte of a report as it was signed? Stricter than general verifiers, which accept some changes.

Three walls, most changes stopped by each: the file's shape and digests, byte by byte, with no PDF parser
(`revisions`, `cms`); pyHanko's own validation of each signature; and what may differ between revisions.
"""

import asyncio
import hashlib
import logging
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from typing import Any, Final

from asn1crypto import x509
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.diff_analysis import (
    CatalogModificationRule,
    DiffResult,
    DocInfoRule,
    FormUpdatingRule,
    ModificationLevel,
    SigFieldCreationRule,
    SigFieldModificationRule,
    StandardDiffPolicy,
)
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature
from pyhanko_certvalidator import ValidationContext

from interlock.evidence import marks
from interlock.evidence.cms import SignatureValue, read_value
from interlock.evidence.keys import is_demo_certificate
from interlock.evidence.refusal import Refused
from interlock.evidence.revisions import Revision, split

__all__ = ["ROLES", "Checked", "Signature", "check_signed", "check_unsigned"]

ROLES: Final = ("tester", "safety_officer")
"""Names of the signature fields, in the order in which they may be signed."""

for _library in ("pyhanko", "pyhanko_certvalidator"):
    logging.getLogger(_library).addHandler(logging.NullHandler())  # what they refuse is said by `Refused`

_CHANGED: Final = (
    "the file was changed after it was signed, or was signed in another way than this suite signs"
)
_FIELD_KEYS: Final = {"/FT", "/T", "/Type", "/Subtype", "/F", "/Rect", "/P", "/V"}
_SIGNATURE_KEYS: Final = {
    "/Type",
    "/Filter",
    "/SubFilter",
    "/Contents",
    "/ByteRange",
    "/M",
    "/Name",
    "/Reason",
}
_INFO_MAY_CHANGE: Final = {"/ModDate", "/Producer"}  # the signing library writes these two
_POLICY: Final = StandardDiffPolicy(
    global_rules=[
        CatalogModificationRule(ignored_keys={"/AcroForm"}),  # type: ignore[no-untyped-call] # pyHanko's
        DocInfoRule().as_qualified(ModificationLevel.LTA_UPDATES),
    ],
    form_rule=FormUpdatingRule(
        field_rules=[SigFieldCreationRule(), SigFieldModificationRule()],  # type: ignore[no-untyped-call] # pyHanko's
        ignored_acroform_keys={"/Fields"},
    ),
    ignore_orphaned_objects=False,
    ignore_identical_objects=False,
)


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature whose every byte was checked; who made it is another question."""

    role: str
    value: SignatureValue
    claimed_time: datetime
    reason: str

    @property
    def certificate(self) -> x509.Certificate:
        """The signer's."""
        return self.value.certificate

    @property
    def is_demo(self) -> bool:
        """Whether a demo key made it."""
        return is_demo_certificate(self.certificate)

    def is_by(self, certificate: x509.Certificate) -> bool:
        """Whether that certificate is of the same key or names the same person."""
        own = self.certificate
        same_key: bool = own.public_key.dump() == certificate.public_key.dump()
        same_name: bool = own.subject.dump() == certificate.subject.dump()
        return same_key or same_name


@dataclass(frozen=True, slots=True)
class Checked:
    """A report that holds, with its signatures in their order."""

    is_demo: bool  # its pages carry the demo line
    signatures: tuple[Signature, ...]


def check_unsigned(data: bytes) -> Checked:
    """The report, if it is one of this suite that nobody has signed; raises Refused if not."""
    if not data.endswith(b"%%EOF\n") or data.count(b"%%EOF") != 1:
        raise Refused("it is not a report as this suite writes it")
    reader, keywords = _read(data)
    if "/AcroForm" in reader.root:
        raise Refused("it holds a form or a signature that this suite did not write")
    return Checked(marks.is_demo_marked(keywords), ())


def check_signed(data: bytes) -> Checked:
    """The report with its signatures; raises Refused if any byte or rule is broken.

    Call it outside any event loop (the library runs its own).
    """
    _outside_event_loop()
    revisions = split(data)
    digests = [_digest(data, revision) for revision in revisions]
    if any(digest not in revision.contents for digest, revision in zip(digests, revisions, strict=True)):
        raise Refused(_CHANGED)  # the same as below, before anything is parsed
    values = tuple(map(read_value, revisions))
    if [value.digest for value in values] != digests:
        raise Refused(_CHANGED)
    reader, keywords = _read(data)
    signatures = _parsed(reader, revisions, values)
    is_demo = marks.is_demo_marked(keywords)
    if any(signature.is_demo != is_demo for signature in signatures):
        raise Refused("demo key and demo mark do not go together: one is there without the other")
    _distinct(signatures)
    return Checked(is_demo, signatures)


def _digest(data: bytes, revision: Revision) -> bytes:
    digest = hashlib.sha256()
    for piece in revision.covered(data):
        digest.update(piece)
    return digest.digest()


def _outside_event_loop() -> None:
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        return
    raise RuntimeError("signatures are checked outside an event loop: call this in a thread of its own")


def _read(data: bytes) -> tuple[PdfFileReader, str]:
    try:
        reader = PdfFileReader(BytesIO(data))
        keywords = str(reader.trailer["/Info"]["/Keywords"])
    except Exception as error:  # on garbage the library raises what it likes: all of it refuses
        raise Refused(f"it cannot be read as a PDF ({_brief(error)})") from error
    if not marks.is_report(keywords):
        raise Refused("it is not a report of this suite")
    return reader, keywords


def _parsed(
    reader: PdfFileReader, revisions: tuple[Revision, ...], values: tuple[SignatureValue, ...]
) -> tuple[Signature, ...]:
    try:
        embedded = reader.embedded_signatures
        if len(embedded) != len(revisions) or reader.xrefs.total_revisions != len(revisions) + 1:
            raise Refused("the file's parts and its signatures do not match")
        _unchanged(reader, len(revisions))
        numbered = enumerate(zip(embedded, revisions, values, strict=True), 1)
        return tuple(_signature(number, *triple) for number, triple in numbered)
    except Refused:
        raise
    except Exception as error:  # as above: whatever the library raises, the file is refused
        raise Refused(f"its signatures cannot be validated ({_brief(error)})") from error


def _brief(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"[:200]


def _unchanged(reader: PdfFileReader, signed: int) -> None:
    """Later revisions add signatures and nothing else: no page, title, form or loose object."""
    if reader.encrypted or reader.has_xref_stream or reader.xrefs.hybrid_xrefs_present:
        raise Refused("the file is built in a way in which this suite does not write")
    first = _info(reader.get_historical_resolver(0))
    for number in range(signed + 1):
        if number and not isinstance(_POLICY.review_file(reader, number), DiffResult):
            raise Refused("a revision changes more than to add a signature")
        if _info(reader.get_historical_resolver(number)) != first:
            raise Refused("a revision changes the document's title or marks")


def _info(revision: Any) -> dict[str, str]:
    """Title, keywords and so on as that revision has them, not as the latest one does."""
    info = revision(revision.trailer_view.raw_get("/Info").reference)
    return {key: str(info.raw_get(key)) for key in info if key not in _INFO_MAY_CHANGE}


def _signature(
    number: int, embedded: EmbeddedPdfSignature, revision: Revision, value: SignatureValue
) -> Signature:
    sound = (
        tuple(map(int, embedded.byte_range)) == revision.byte_range
        and embedded.signed_revision == number
        and embedded.field_name in ROLES
        and embedded.sig_object["/SubFilter"] == "/ETSI.CAdES.detached"
        and set(embedded.sig_object) <= _SIGNATURE_KEYS
        and set(embedded.sig_field) == _FIELD_KEYS
        and all(float(side) == 0.0 for side in embedded.sig_field["/Rect"])
        and embedded.signer_cert.dump() == value.certificate.dump()
        and embedded.pkcs7_content == revision.contents
    )
    if not sound:
        raise Refused("a signature is not built as this suite builds it")
    status = validate_pdf_signature(embedded, ValidationContext(trust_roots=[]), skip_diff=True)
    if not (status.intact and status.valid):
        raise Refused("a signature does not belong to the file: forged, or the file was changed")
    claimed = embedded.self_reported_timestamp
    if claimed is None or claimed.tzinfo is None:
        raise Refused("a signature claims no time")
    return Signature(
        embedded.field_name, value, claimed.astimezone(UTC), str(embedded.sig_object.get("/Reason", ""))
    )


def _distinct(signatures: tuple[Signature, ...]) -> None:
    roles = [signature.role for signature in signatures]
    if roles not in (["tester"], ["safety_officer"], list(ROLES)):
        raise Refused("the roles are not signed once each, the safety officer last")
    if len(signatures) == 2 and signatures[0].is_by(signatures[1].certificate):
        raise Refused("the same person or key signed in two roles")
