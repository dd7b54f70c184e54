"""Average probability of failure on demand and failures an hour by IEC 61508-6:2010, Annex B.

λDU, λDD: undetected and detected dangerous failures an hour of one channel; times in hours; MRT is taken equal to
MTTR as in the standard's tables. β, βD: common cause of undetected and of detected failures. In PFH a
detected fault leads to the safe state (2010; the 2000 edition counts detected failures in 1oo2 too). tCE seen
in public slides on the annex, the other formulas from memory and checked by Markov model and simulation.
"""

from functools import partial
from typing import Final

from interlock.errors import RatingError
from interlock.rating.values import at_least_zero, positive, share

__all__ = [
    "down_time_h",
    "interval_with_imperfect_test_h",
    "pfd_1oo1",
    "pfd_1oo2",
    "pfd_1oo2d",
    "pfd_2oo2",
    "pfd_2oo3",
    "pfh_1oo1",
    "pfh_1oo2",
    "pfh_1oo2d",
    "pfh_2oo2",
    "pfh_2oo3",
    "sil_of_pfd",
]

_RATE: Final = "give failures an hour, above 0 and at most 1 (a value in FIT is 1e-9 of that)"
_SHARE: Final = "give a fraction from 0 to 1 (10 % is 0.1)"


def down_time_h(
    lambda_du: float, lambda_dd: float, proof_test_h: float, mttr_h: float, *, among: int = 2
) -> float:
    """Mean hours that a failed channel stays failed: (λDU/λD)(T1/among + MRT) + (λDD/λD) · MTTR.

    `among` 2 gives tCE of a channel, 3 gives tGE of a group of two. Source: IEC 61508-6:2010, B.3.2.2.
    """
    undetected = positive("lambda_du", lambda_du, _RATE, at_most=1)
    detected = share("lambda_dd", lambda_dd, _RATE)
    interval = positive("proof_test_h", proof_test_h, "give the hours between two proof tests, above 0")
    repair = at_least_zero("mttr_h", mttr_h, "give the mean hours to restoration, 0 or more")
    return (undetected * (interval / among + repair) + detected * repair) / (undetected + detected)


def interval_with_imperfect_test_h(proof_test_h: float, coverage: float, lifetime_h: float) -> float:
    """The proof-test interval, in hours, to use when the test finds only the share `coverage` of the failures.

    coverage · T1 + (1-coverage) · T2: the rest stays hidden until replacement or a full test after `lifetime_h`.
    Every formula here is linear in T1, so this is the standard's own form of them. The coverage is that of the
    proof test as derived and performed. Source: IEC 61508-6:2010, B.3.2.5 (from memory).
    """
    interval = positive("proof_test_h", proof_test_h, "give the hours between two proof tests, above 0")
    found = share("coverage", coverage, "give the share of failures found, from 0 to 1", one_allowed=True)
    need = "give the hours until replacement or a complete test, above 0 and at least the proof-test interval"
    lifetime = positive("lifetime_h", lifetime_h, need)
    if lifetime < interval:
        raise RatingError(f"lifetime_h is {lifetime!r}, proof_test_h {interval!r}: {need}")
    return found * interval + (1 - found) * lifetime


def _all_must_work(
    channels: int,
    lambda_du: float,
    lambda_dd: float,
    proof_test_h: float,
    mttr_h: float,
    beta: float = 0,
    beta_d: float = 0,
) -> float:
    """PFDavg: channels · λD · tCE (β and βD are checked but have no effect)."""
    _independent(lambda_du, lambda_dd, beta, beta_d)
    t_channel = down_time_h(lambda_du, lambda_dd, proof_test_h, mttr_h)
    return _probability(channels * (lambda_du + lambda_dd) * t_channel)


pfd_1oo1: Final = partial(_all_must_work, 1)
"""PFDavg of one channel. Source: IEC 61508-6:2010, B.3.2.2.1."""

pfd_2oo2: Final = partial(_all_must_work, 2)
"""PFDavg of two channels that must both work. Source: IEC 61508-6:2010, B.3.2.2.3 (from memory)."""


def _two_must_fail(
    pairs: int,
    lambda_du: float,
    lambda_dd: float,
    proof_test_h: float,
    mttr_h: float,
    beta: float = 0,
    beta_d: float = 0,
) -> float:
    """PFDavg: pairs · ((1-βD) λDD + (1-β) λDU)² · tCE · tGE + βD λDD MTTR + β λDU (T1/2 + MRT)."""
    _, detected, own = _independent(lambda_du, lambda_dd, beta, beta_d)
    t_channel = down_time_h(lambda_du, lambda_dd, proof_test_h, mttr_h)
    t_group = down_time_h(lambda_du, lambda_dd, proof_test_h, mttr_h, among=3)
    common = beta_d * detected * mttr_h + beta * lambda_du * (proof_test_h / 2 + mttr_h)
    return _probability(pairs * own**2 * t_channel * t_group + common)


pfd_1oo2: Final = partial(_two_must_fail, 2)
"""PFDavg of two channels of which either suffices. Source: IEC 61508-6:2010, B.3.2.2.2 (from memory)."""

pfd_2oo3: Final = partial(_two_must_fail, 6)
"""PFDavg of three channels of which two must work. Source: IEC 61508-6:2010, B.3.2.2.5 (from memory)."""


def _any_fails(
    channels: int,
    lambda_du: float,
    lambda_dd: float,
    proof_test_h: float,
    mttr_h: float,
    beta: float = 0,
    beta_d: float = 0,
) -> float:
    """Dangerous failures an hour: channels · λDU (all else is checked but has no effect)."""
    down_time_h(lambda_du, lambda_dd, proof_test_h, mttr_h)
    _independent(lambda_du, lambda_dd, beta, beta_d)
    return float(channels * lambda_du)


pfh_1oo1: Final = partial(_any_fails, 1)
"""Dangerous failures an hour of one channel. Source: IEC 61508-6:2010, B.3.3.2.1 (from memory)."""

pfh_2oo2: Final = partial(_any_fails, 2)
"""Dangerous failures an hour of 2oo2. Source: IEC 61508-6:2010, B.3.3.2.3 (from memory)."""


def _second_fails(
    pairs: int,
    lambda_du: float,
    lambda_dd: float,
    proof_test_h: float,
    mttr_h: float,
    beta: float = 0,
    beta_d: float = 0,
) -> float:
    """Dangerous failures an hour: pairs · ((1-βD) λDD + (1-β) λDU)(1-β) λDU · tCE + β λDU."""
    du, _, own = _independent(lambda_du, lambda_dd, beta, beta_d)
    return pairs * own * du * down_time_h(lambda_du, lambda_dd, proof_test_h, mttr_h) + beta * lambda_du


pfh_1oo2: Final = partial(_second_fails, 2)
"""Dangerous failures an hour of 1oo2. Source: IEC 61508-6:2010, B.3.3.2.2 (from memory)."""

pfh_2oo3: Final = partial(_second_fails, 6)
"""Dangerous failures an hour of 2oo3. Source: IEC 61508-6:2010, B.3.3.2.5 (from memory)."""


def pfd_1oo2d(
    lambda_du: float,
    lambda_dd: float,
    lambda_sd: float,
    proof_test_h: float,
    mttr_h: float,
    beta: float = 0,
    beta_d: float = 0,
    switching: float = 1,
) -> float:
    """PFDavg of 1oo2D; `switching` K is the share of channel comparisons that switch over rightly.

    2(1-β)λDU((1-β)λDU + (1-βD)λDD + λSD) tCE' tGE' + 2(1-K) λDD tCE' + β λDU (T1/2 + MRT).
    Source: IEC 61508-6:2010, B.3.2.2.4 (from memory; K 1 gives the 2000 edition).
    """
    du, dd, own = _independent(lambda_du, lambda_dd, beta, beta_d)
    sd = share("lambda_sd", lambda_sd, _RATE)
    t_channel = down_time_h(lambda_du, lambda_dd + lambda_sd, proof_test_h, mttr_h)
    t_group = proof_test_h / 3 + mttr_h
    missed = 1 - share("switching", switching, _SHARE, one_allowed=True)
    common = beta * lambda_du * (proof_test_h / 2 + mttr_h)
    return _probability(2 * du * (own + sd) * t_channel * t_group + 2 * missed * dd * t_channel + common)


def pfh_1oo2d(
    lambda_du: float,
    lambda_dd: float,
    lambda_sd: float,
    proof_test_h: float,
    mttr_h: float,
    beta: float = 0,
    beta_d: float = 0,
    switching: float = 1,
) -> float:
    """Dangerous failures an hour of 1oo2D: 2(1-β)λDU((1-β)λDU+(1-βD)λDD+λSD) tCE' + 2(1-K)λDD + βλDU.

    Source: IEC 61508-6:2010, B.3.3.2.4 (from memory).
    """
    du, dd, own = _independent(lambda_du, lambda_dd, beta, beta_d)
    sd = share("lambda_sd", lambda_sd, _RATE)
    t_channel = down_time_h(lambda_du, lambda_dd + lambda_sd, proof_test_h, mttr_h)
    missed = 1 - share("switching", switching, _SHARE, one_allowed=True)
    return 2 * du * (own + sd) * t_channel + 2 * missed * dd + beta * lambda_du


def sil_of_pfd(pfd: float) -> int:
    """The SIL, 1 to 4, whose low-demand band holds the average probability; below 1e-5 still 4.

    A border belongs to the lower SIL. 0.1 and more: RatingError. Source: IEC 61508-1:2010, Table 2 (from memory).
    """
    probability = positive("pfd", pfd, "give an average probability, above 0")
    for level, limit in ((4, 1e-4), (3, 1e-3), (2, 1e-2), (1, 1e-1)):
        if probability < limit:
            return level
    raise RatingError(f"pfd is {probability!r}: no SIL reaches 0.1 or more; test more often or redesign")


def _independent(
    lambda_du: float, lambda_dd: float, beta: float, beta_d: float
) -> tuple[float, float, float]:
    """(1-β) λDU, λDD and (1-β) λDU + (1-βD) λDD, all inputs checked."""
    undetected = positive("lambda_du", lambda_du, _RATE, at_most=1)
    detected = share("lambda_dd", lambda_dd, _RATE)
    du = (1 - share("beta", beta, _SHARE, one_allowed=True)) * undetected
    return du, detected, du + (1 - share("beta_d", beta_d, _SHARE, one_allowed=True)) * detected


def _probability(value: float) -> float:
    need = (
        "above 1: the formulas hold only while λ · T1 is well below 1; test more often or use a Markov model"
    )
    return positive("the average probability", value, need, at_most=1)
