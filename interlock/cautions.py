"""The usual cautions, said in the same words wherever a result is shown."""

from typing import Final

__all__ = ["CAUTIONS", "IN_SHORT"]

CAUTIONS: Final = (
    "Rotating parts. The shaft goes on turning after the torque is off. Keep the chamber closed until it has "
    "come to rest; torque off is not standstill.",
    "Stored energy. The DC bus stays charged after the contactor has opened. Wait for its discharge, then "
    "measure before touching; trust no indicator and no report for that.",
    "Guarded chamber. Do not run the bench with a guard removed, bypassed or damaged, whatever a result says.",
    "Never rely on this software or its documents alone. It judges the files given to it, not the bench in "
    "front of you; it knows nothing of faults that neither those files nor the description show, and of no "
    "pulse shorter than the time between two samples.",
    "Local codes, the standards themselves and licensed practice come first. Quoted clauses are pointers, not "
    "a replacement for the standard; a competent person must judge the bench and take the responsibility.",
)
"""Shown in the README, in every result document and in every report."""

IN_SHORT: Final = (
    "Rotating parts and stored energy can kill. This judges files, not the bench in front of you."
    " Standards, local codes and licensed practice come first."
)
"""One line under every verdict on a terminal."""
