"""Reports that convince in years to come: the document, its signatures, and whether both still hold.

The names below are loaded when first used, so that importing this package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from interlock.evidence.document import write_report
    from interlock.evidence.identity import Trust, load_trust
    from interlock.evidence.keys import ReportSigner, load_signer, make_demo_signer
    from interlock.evidence.material import ReportMaterial
    from interlock.evidence.sign import Role, sign_report
    from interlock.evidence.verification import SignerReport, Verification, verification_schema
    from interlock.evidence.verify import verify_report

__all__ = [
    "ReportMaterial",
    "ReportSigner",
    "Role",
    "SignerReport",
    "Trust",
    "Verification",
    "load_signer",
    "load_trust",
    "make_demo_signer",
    "sign_report",
    "verification_schema",
    "verify_report",
    "write_report",
]

_HOME: Final = {
    "ReportMaterial": "material",
    "ReportSigner": "keys",
    "Role": "sign",
    "SignerReport": "verification",
    "Trust": "identity",
    "Verification": "verification",
    "load_signer": "keys",
    "load_trust": "identity",
    "make_demo_signer": "keys",
    "sign_report": "sign",
    "verification_schema": "verification",
    "verify_report": "verify",
    "write_report": "document",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
