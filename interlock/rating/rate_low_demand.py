"""A function demanded at most once a year, by its average probability of failure on demand: IEC 61508-6:2010."""

from collections.abc import Callable, Collection, Mapping
from math import fsum
from typing import Final

from interlock.errors import RatingError
from interlock.rating.iec61508 import (
    interval_with_imperfect_test_h,
    pfd_1oo1,
    pfd_1oo2,
    pfd_2oo2,
    pfd_2oo3,
    sil_of_pfd,
)
from interlock.rating.inputs_bench import Element, LowDemand
from interlock.rating.iso13849 import category_name
from interlock.rating.result import BenchRating, Judgement
from interlock.rating.step import Mark, Trail
from interlock.verdict import Verdict

__all__ = ["judge_low_demand"]

_ANNEX: Final = "IEC 61508-6:2010, Annex B"
_BANDS: Final = "IEC 61508-1:2010, Table 2"
_MEMORY: Final = Mark.FROM_MEMORY
_REDUNDANT: Final = ("1oo2", "2oo3")
_PFD: Final[Mapping[str, Callable[[float, float, float, float, float, float], float]]] = {
    "1oo1": pfd_1oo1,
    "1oo2": pfd_1oo2,
    "2oo2": pfd_2oo2,
    "2oo3": pfd_2oo3,
}
_TCE: Final = "tCE = (U * (T / 2 + R) + D * R) / (U + D)"
_OWN: Final = "((1 - bD) * D + (1 - b) * U) ** 2 * tCE * tGE + bD * D * R + b * U * (T / 2 + R)"
_FORMULA: Final = {
    "1oo1": f"(U + D) * tCE, {_TCE}",
    "2oo2": f"2 * (U + D) * tCE, {_TCE}",
    "1oo2": f"2 * {_OWN}, {_TCE}, tGE the same with T / 3",
    "2oo3": f"6 * {_OWN}, {_TCE}, tGE the same with T / 3",
}


def judge_low_demand(name: str, given: LowDemand, supported: Collection[object] | None) -> BenchRating:
    """The required SIL against the band of the summed PFDavg at the pessimistic end of every input.

    `supported`: the categories that the structure was shown to carry; two channels are believed only where 3 or 4
    is among them. The coverage is that of the proof test as performed; what it misses stays until `lifetime_h`.
    """
    trail, title = Trail(), f"low demand of {name}"
    if given.demands_per_year > 1:
        text = (
            f"{given.demands_per_year:g} demands a year are expected: above one a year the function is not in low "
            "demand, so PFDavg may not be claimed; rate it by its failures an hour."
        )
        return _found(title, Verdict.FAIL, f"The claim is refused: {text}", trail)
    refusal = _structure(given, supported)
    if refusal is not None and refusal[0] is Verdict.FAIL:
        return _found(title, *refusal, trail)
    try:
        level, total = _level(given, trail)
    except RatingError as error:
        return _found(
            title, Verdict.FAIL, f"SIL {given.required_sil} required; the claim is refused: {error}.", trail
        )
    text = f"SIL {given.required_sil} required, PFDavg {total:.3g} lies in the band of SIL {level}"
    if level < given.required_sil:
        return _found(title, Verdict.FAIL, f"{text}.", trail)
    if refusal is not None:
        return _found(title, refusal[0], f"{text}, but {refusal[1]}", trail)
    return _found(
        title, Verdict.PASS, f"{text}; limits of the architecture (IEC 61508-2) are not part of it.", trail
    )


def _found(title: str, verdict: Verdict, sentence: str, trail: Trail) -> BenchRating:
    judged = Judgement("probability of failure on demand", verdict, f"{_BANDS} (from memory)", sentence)
    return BenchRating(title, verdict, (judged,), tuple(trail.steps))


def _structure(given: LowDemand, supported: Collection[object] | None) -> tuple[Verdict, str] | None:
    redundant = [name for name, element in given.elements.items() if element.architecture in _REDUNDANT]
    if not redundant:
        return None
    names = ", ".join(redundant)
    if supported is None:
        return Verdict.INCONCLUSIVE, f"the redundant channels of {names} were not shown."
    if not {"3", "4"} & set(map(category_name, supported)):
        return (
            Verdict.FAIL,
            f"The structure as wired does not carry the redundancy of {names}: the claim is refused.",
        )
    return None


def _level(given: LowDemand, trail: Trail) -> tuple[int, float]:
    rates = {
        f"P{i}": _element(name, element, trail) for i, (name, element) in enumerate(given.elements.items(), 1)
    }
    total = trail.note(
        "function: PFDavg", " + ".join(rates), rates, fsum(rates.values()), source=_ANNEX, mark=_MEMORY
    )
    level = sil_of_pfd(total)
    trail.note("function: SIL", "band of PFDavg", {"PFDavg": total}, level, source=_BANDS, mark=_MEMORY)
    return level, total


def _element(name: str, element: Element, trail: Trail) -> float:
    covered = element.proof_test_coverage
    share = 1.0 if isinstance(covered, str) else covered.worse_end
    interval = trail.note(
        f"{name}: proof-test interval with what the test misses",
        "c * T1 + (1 - c) * T2",
        {"c": share, "T1": element.proof_test_h, "T2": element.lifetime_h},
        interval_with_imperfect_test_h(element.proof_test_h, share, element.lifetime_h),
        unit="h",
        source=f"{_ANNEX}, B.3.2.5; coverage by {element.source}",
        mark=_MEMORY,
    )
    undetected, detected = element.lambda_du_per_h.worse_end, element.lambda_dd_per_h
    beta, beta_d = (0.0 if one is None else one.worse_end for one in (element.beta, element.beta_d))
    numbers = {"U": undetected, "D": detected, "T": interval, "R": element.mttr_h, "b": beta, "bD": beta_d}
    result = _PFD[element.architecture](undetected, detected, interval, element.mttr_h, beta, beta_d)
    return trail.note(
        f"{name}: PFDavg of {element.architecture}",
        _FORMULA[element.architecture],
        numbers,
        result,
        source=f"{_ANNEX}; failure rates by {element.source}",
        mark=_MEMORY,
    )
