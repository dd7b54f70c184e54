"""What a verification says, as a frozen value and as JSON with a published schema."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path
from typing import Any, Final, NoReturn

from interlock.verdict import Verdict

__all__ = ["CAUTION", "SCHEMA", "Identity", "SignerReport", "Verification", "verification_schema"]

SCHEMA: Final = "interlock/verification/1"

CAUTION: Final = (
    "A signature shows that the file was not changed since, and at best who signed it; it does not make its "
    "content true. The time is the claim of the signer's own clock. A last signature that was taken off "
    "leaves no trace in the file: check that every signer whom you expect is listed. Local codes, the "
    "standards and licensed practice come first."
)


class Identity(StrEnum):
    """What is known of who signed."""

    TRUSTED = "trusted"
    NOT_TRUSTED = "not_trusted"
    DEMO = "demo"


@dataclass(frozen=True, slots=True)
class SignerReport:
    """One signature that holds, and who is said to have made it."""

    role: str  # "tester" or "safety_officer"
    name: str
    certificate_sha256: str
    claimed_time: datetime | None  # by the signer's own clock; no authority confirms it
    reason: str
    identity: Identity

    @property
    def is_demo(self) -> bool:
        """Whether a demo key made it."""
        return self.identity is Identity.DEMO

    def as_json(self) -> dict[str, Any]:
        """As the schema says."""
        time = self.claimed_time
        return {
            "role": self.role,
            "name": self.name,
            "certificate_sha256": self.certificate_sha256,
            "claimed_time": None if time is None else time.astimezone(UTC).isoformat().replace("+00:00", "Z"),
            "time_is": "claimed by the signer's clock",
            "reason": self.reason,
            "identity": str(self.identity),
            "is_demo": self.is_demo,
        }


@dataclass(frozen=True, slots=True)
class Verification:
    """Whether a signed report holds.

    pass: every byte is as it was signed, and every signer is trusted (or all keys are demo keys, no trust was
    asked for, and a reason says so). fail: a rule is broken. inconclusive: nothing was changed, but who
    signed is not established.
    """

    path: str
    sha256: str
    verdict: Verdict
    reasons: tuple[str, ...]
    signers: tuple[SignerReport, ...]

    def __bool__(self) -> NoReturn:
        raise TypeError("a verification is neither true nor false: compare its verdict by name")

    @property
    def is_demo(self) -> bool:
        """Whether any signature was made with a demo key."""
        return any(signer.is_demo for signer in self.signers)

    def as_json(self) -> dict[str, Any]:
        """As `verify --json` prints it, by `verification_schema`."""
        return {
            "schema": SCHEMA,
            "path": self.path,
            "sha256": self.sha256,
            "verdict": str(self.verdict),
            "reasons": list(self.reasons),
            "is_demo": self.is_demo,
            "signers": [signer.as_json() for signer in self.signers],
            "cautions": [CAUTION],
        }


def verification_schema() -> dict[str, Any]:
    """The JSON Schema of `Verification.as_json`."""
    schema: dict[str, Any] = json.loads(
        Path(__file__).with_name("verification.schema.json").read_text("utf-8")
    )
    return schema
