"""Dangerous failures an hour of the basic subsystem architectures of IEC 62061, and the SIL they may claim.

Formulas of IEC 62061:2005, 6.7.8.2 (2021: Annex H), from memory; they hold while λ · T1 is well below 1 and
are meant as cautious estimates. λ: dangerous failures an hour of an element; times in hours; fractions.
"""

import math
from collections.abc import Iterable
from typing import Final

from interlock.errors import RatingError
from interlock.rating.values import HOURS_PER_YEAR, at_least_zero, filled, positive, share, whole

__all__ = [
    "beta_from_score",
    "lambda_from_mttfd",
    "pfh_a",
    "pfh_b",
    "pfh_c",
    "pfh_d",
    "safe_failure_fraction",
    "sil_limit",
    "sil_of_pfh",
]

_RATE: Final = "give dangerous failures an hour, above 0 and at most 1 (a value in FIT is 1e-9 of that)"
_HOURS: Final = "give hours, above 0; T1 is the shorter of proof-test interval and useful lifetime"
_BETA: Final = "give the common-cause factor as a fraction from 0 to 1 (2 % is 0.02)"
_DC: Final = "give diagnostic coverage as a fraction from 0 to below 1; no test finds everything"
_SIL_LIMITS: Final = (  # SFF from, SIL limit at HFT 0, 1, 2; 0: not allowed
    (0.99, (3, 3, 3)),
    (0.90, (2, 3, 3)),
    (0.60, (1, 2, 3)),
    (0.0, (0, 1, 2)),
)


def lambda_from_mttfd(mttfd: float) -> float:
    """Dangerous failures an hour of a part with a constant rate: 1 / (8760 · MTTFd), MTTFd in years."""
    return 1 / (HOURS_PER_YEAR * positive("mttfd", mttfd, "give years, above 0"))


def pfh_a(lambdas: Iterable[float]) -> float:
    """Architecture A, single channel without diagnostics (HFT 0): Σ λ, in 1/h.

    Source: IEC 62061:2005, 6.7.8.2.2 (from memory).
    """
    rates = filled("lambdas", lambdas, "an architecture needs at least one element")
    return math.fsum(
        positive(f"lambda of element {i}", rate, _RATE, at_most=1) for i, rate in enumerate(rates, 1)
    )


def pfh_b(lambda_1: float, lambda_2: float, beta: float, proof_test_h: float) -> float:
    """Architecture B, two channels without diagnostics (HFT 1), in 1/h.

    (1-β)² · λ1 · λ2 · T1 + β · (λ1+λ2)/2. Source: IEC 62061:2005, 6.7.8.2.3 (from memory).
    """
    l1, l2, common = _two_channels(lambda_1, lambda_2, beta)
    t1 = positive("proof_test_h", proof_test_h, _HOURS)
    return (1 - common) ** 2 * l1 * l2 * t1 + common * (l1 + l2) / 2


def pfh_c(parts: Iterable[tuple[float, float]]) -> float:
    """Architecture C, single channel with diagnostics (HFT 0), [(lambda, dc), ...]: Σ λ · (1-DC), in 1/h.

    Holds only if the fault is handled in time: tests at least 100 times as often as demands, or a test at each
    demand with the reaction inside the process safety time. Source: IEC 62061:2005, 6.7.8.2.4 (from memory).
    """
    pairs = filled("parts", parts, "an architecture needs (lambda, dc) of at least one element")
    return math.fsum(_undetected(i, pair) for i, pair in enumerate(pairs, 1))


def pfh_d(
    lambda_1: float,
    lambda_2: float,
    dc_1: float,
    dc_2: float,
    beta: float,
    proof_test_h: float,
    diagnostic_h: float,
) -> float:
    """Architecture D, two channels with diagnostics (HFT 1), in 1/h.

    (1-β)² · {λ1λ2(DC1+DC2) · T2/2 + λ1λ2(2-DC1-DC2) · T1/2} + β · (λ1+λ2)/2, T2 the diagnostic test interval.
    Source: IEC 62061:2005, 6.7.8.2.5 (from memory; for equal elements the same as its second line).
    """
    l1, l2, common = _two_channels(lambda_1, lambda_2, beta)
    d1, d2 = share("dc_1", dc_1, _DC), share("dc_2", dc_2, _DC)
    t1 = positive("proof_test_h", proof_test_h, _HOURS)
    t2 = positive(
        "diagnostic_h", diagnostic_h, "give hours, above 0 and at most the proof-test interval", at_most=t1
    )
    independent = l1 * l2 * ((d1 + d2) * t2 / 2 + (2 - d1 - d2) * t1 / 2)
    return (1 - common) ** 2 * independent + common * (l1 + l2) / 2


def sil_of_pfh(pfh: float) -> int:
    """The SIL, 1 to 3, whose high-demand band holds the dangerous failures an hour; below 1e-8 still 3.

    A border belongs to the lower SIL. 1e-5 and more: RatingError. Source: IEC 62061, SIL table (from memory).
    """
    rate = positive("pfh", pfh, "give dangerous failures an hour, above 0")
    if rate >= 1e-5:
        raise RatingError(f"pfh is {rate!r} an hour: no SIL reaches 1e-5 or more; redesign needed")
    return 3 if rate < 1e-7 else 2 if rate < 1e-6 else 1


def safe_failure_fraction(lambda_safe: float, lambda_detected: float, lambda_undetected: float) -> float:
    """(λS + λDD) / (λS + λDD + λDU); failures without effect are left out (2021 edition).

    Source: IEC 62061:2021 (definition; clause from memory).
    """
    safe = share("lambda_safe", lambda_safe, _RATE)
    detected = share("lambda_detected", lambda_detected, _RATE)
    return (safe + detected) / (
        safe + detected + positive("lambda_undetected", lambda_undetected, _RATE, at_most=1)
    )


def sil_limit(safe_failure_fraction: float, hardware_fault_tolerance: int) -> int:
    """The highest SIL that the structure of a subsystem allows; RatingError where none is.

    Source: IEC 62061:2005, Table 5 and 2021, Table 6 (from memory). The exception for well-tried
    electromechanical parts with fault exclusion (SIL 1) is not taken.
    """
    fraction = share("safe_failure_fraction", safe_failure_fraction, "give a fraction from 0 to below 1")
    tolerance = whole("hardware_fault_tolerance", hardware_fault_tolerance, "give 0, 1 or 2", at_least=0)
    limits = next(limits for start, limits in _SIL_LIMITS if fraction >= start)
    limit = limits[min(tolerance, 2)]
    if limit == 0:
        raise RatingError(
            f"safe failure fraction {fraction:g} with hardware fault tolerance 0: not allowed; "
            "at least 0.60, or a second channel, is needed (IEC 62061:2021, Table 6)"
        )
    return limit


def beta_from_score(score: float) -> float:
    """The common-cause factor of the questionnaire of this standard: 10, 5, 2 or 1 %.

    Below 35: 0.10; from 35: 0.05; above 65: 0.02; above 85: 0.01 (on a border the worse one). A score of the list
    of ISO 13849-1 is another number and must not be used. Source: IEC 62061:2005, Table F.2 (from memory).
    """
    need = "give 0 to 100 points of the list of IEC 62061"
    points = at_least_zero("score", score, need)
    if points > 100:
        raise RatingError(f"score is {score!r}: {need}")
    return 0.10 if points < 35 else 0.05 if points <= 65 else 0.02 if points <= 85 else 0.01


def _two_channels(lambda_1: float, lambda_2: float, beta: float) -> tuple[float, float, float]:
    l1 = positive("lambda_1", lambda_1, _RATE, at_most=1)
    l2 = positive("lambda_2", lambda_2, _RATE, at_most=1)
    return l1, l2, share("beta", beta, _BETA, one_allowed=True)


def _undetected(i: int, pair: object) -> float:
    if not isinstance(pair, tuple | list) or len(pair) != 2:
        raise RatingError(f"part {i} is {pair!r}: give a pair (lambda, dc)")
    rate = positive(f"lambda of element {i}", pair[0], _RATE, at_most=1)
    return rate * (1 - share(f"dc of element {i}", pair[1], _DC))
