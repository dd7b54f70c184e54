"""Does a signed report still hold, and is it known who signed it? A doubt is never a pass."""

import asyncio
import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from asn1crypto import x509
from pyhanko_certvalidator import CertificateValidator, ValidationContext

from interlock.evidence.atomic import read_whole
from interlock.evidence.check import Checked, Signature, check_signed
from interlock.evidence.identity import Trust
from interlock.evidence.refusal import Refused
from interlock.evidence.verification import Identity, SignerReport, Verification
from interlock.verdict import Verdict, worst

__all__ = ["verify_report"]

_CLOCKS_APART: Final = timedelta(minutes=5)  # how far the signer's clock may be ahead of this one

_DEMO: Final = "DEMO KEY: proves that the file was not changed, not who signed it; this is not evidence"


def verify_report(path: Path, *, trusted: Trust | None = None, now: datetime | None = None) -> Verification:
    """Re-check a signed report, offline; never raises for what the file contains.

    fail: any byte, rule or signature is broken. pass: all hold and every signer is `trusted` at `now` (None:
    this machine's clock); or all keys are demo keys, no trust was asked for, and a reason says that this
    proves no identity. inconclusive: nothing was changed, but who signed is not established: give `trusted`.
    Whether a certificate was revoked is not asked. Raises EvidenceError only if the file cannot be read.
    """
    data = read_whole(Path(path))
    try:
        checked = check_signed(data)
    except Refused as refused:
        return _verification(path, data, Verdict.FAIL, (f"refused: {refused}",), ())
    judged = [_judge(signature, trusted, now or datetime.now(UTC)) for signature in checked.signatures]
    order = _order(checked)
    verdict = worst([*(verdict for _, verdict, _ in judged), *(Verdict.INCONCLUSIVE for _ in order)])
    reasons = (_holds(checked), *(why for _, _, why in judged), *order)
    return _verification(path, data, verdict, reasons, tuple(signer for signer, _, _ in judged))


def _verification(
    path: Path, data: bytes, verdict: Verdict, reasons: tuple[str, ...], signers: tuple[SignerReport, ...]
) -> Verification:
    return Verification(str(path), hashlib.sha256(data).hexdigest(), verdict, reasons, signers)


def _holds(checked: Checked) -> str:
    count = len(checked.signatures)
    words = "1 signature holds and covers" if count == 1 else f"{count} signatures hold and together cover"
    return f"{words} every byte of the file (PAdES level B-B: no trusted time stamp)"


def _order(checked: Checked) -> list[str]:
    times = [signature.claimed_time for signature in checked.signatures]
    return [] if times == sorted(times) else ["a signature claims to be older than the one that it covers"]


def _judge(signature: Signature, trusted: Trust | None, now: datetime) -> tuple[SignerReport, Verdict, str]:
    """Who signed, whether that is enough, and why."""
    doubt = _doubt(signature, trusted, now)
    time = f"{signature.claimed_time.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC by the signer's own clock"
    if signature.is_demo:
        identity, words, enough = Identity.DEMO, _DEMO, trusted is None or doubt is None
    elif doubt is None:
        identity, words, enough = Identity.TRUSTED, f"trusted; signed {time}", True
    else:
        identity, words, enough = Identity.NOT_TRUSTED, "", False
    if not enough:
        words = "; ".join(filter(None, (words, f"not a trusted identity: {doubt}")))
    about = f"{signature.role.replace('_', ' ')} {_name(signature.certificate)!r}: {words}"
    return _report(signature, identity), Verdict.PASS if enough else Verdict.INCONCLUSIVE, about


def _report(signature: Signature, identity: Identity) -> SignerReport:
    return SignerReport(
        role=signature.role,
        name=_name(signature.certificate),
        certificate_sha256=signature.value.fingerprint,
        claimed_time=signature.claimed_time,
        reason=signature.reason,
        identity=identity,
    )


def _name(certificate: x509.Certificate) -> str:
    named = certificate.subject.native.get("common_name")
    return named if isinstance(named, str) else str(certificate.subject.human_friendly)


def _doubt(signature: Signature, trusted: Trust | None, now: datetime) -> str | None:
    """Why it is not established who signed; None if it is."""
    certificate = signature.certificate
    if trusted is None:
        return "no trusted certificate was given; name the signer's, its SHA-256, or its issuer's"
    if signature.claimed_time > now + _CLOCKS_APART:
        return f"the claimed time {signature.claimed_time} lies in the future"
    if not certificate.not_valid_before <= signature.claimed_time <= certificate.not_valid_after:
        return f"the certificate was not valid at the claimed time {signature.claimed_time}"
    if trusted.pins(certificate):
        return None
    return _path_doubt(certificate, trusted, now)


def _path_doubt(certificate: x509.Certificate, trusted: Trust, now: datetime) -> str | None:
    """Whether a trusted issuer vouches for the certificate, by RFC 5280, 6; revocation is not asked."""
    context = ValidationContext(
        trust_roots=list(trusted.certificates), allow_fetching=False, revocation_mode="soft-fail", moment=now
    )
    validator = CertificateValidator(certificate, validation_context=context)
    usages = {"digital_signature", "non_repudiation"} & _usages(certificate)
    try:
        asyncio.run(validator.async_validate_usage(key_usage=usages))  # type: ignore[no-untyped-call] # the library's
    except Exception as error:  # noqa: BLE001 - whatever the library raises is a doubt, and a doubt never passes
        return f"no trusted issuer vouches for its certificate ({error})"
    return None if usages else "its certificate is not for signing"


def _usages(certificate: x509.Certificate) -> set[str]:
    value = certificate.key_usage_value
    return {"digital_signature"} if value is None else set(value.native)
