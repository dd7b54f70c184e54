"""The words that stand beside every rating: what it is not, and who decides."""

from typing import Final

__all__ = ["CAUTIONS"]

CAUTIONS: Final = (
    "These figures are computed from the numbers given; they are neither a certificate nor a risk assessment.",
    "The standards themselves, local law and codes, the type-C standard of the machine and site rules come first. "
    "A competent person checks inputs and result with the standard in hand, and signs.",
    "Values marked 'from memory' must be checked once against a bought copy of the standard before they decide.",
    "Systematic measures, software and fault lists (ISO 13849-1 Annex G, ISO 13849-2) are not computed here; without "
    "them no level holds. A number of passed tests is not a performance level.",
    "The result holds for one configuration: after a change of parts, wiring, use or limits, rate again.",
    "Emergency stop and safe torque off are not isolation: before reaching in, isolate, lock, wait, and verify that "
    "the bus is discharged and both machines stand still.",
)
"""Printed on every page of a rating, in every text view and in every JSON."""
