"""A function demanded at most once a year, by its average probability of failure on demand: IEC 61508-6:2010."""

from collections.abc import Collection, Mapping
from math import fsum
from typing import Final

from interlock.errors import RatingError
from interlock.rating.chain_facts import ChainFacts
from interlock.rating.element_pfd import element_pfd
from interlock.rating.iec61508 import sil_of_pfd
from interlock.rating.inputs_bench import LowDemand
from interlock.rating.iso13849 import category_name
from interlock.rating.result import BenchRating, Judgement
from interlock.rating.step import Mark, Trail
from interlock.verdict import Verdict

__all__ = ["judge_low_demand"]

_ANNEX: Final = "IEC 61508-6:2010, Annex B"
_BANDS: Final = "IEC 61508-1:2010, Table 2"
_MEMORY: Final = Mark.FROM_MEMORY
_REDUNDANT: Final = ("1oo2", "1oo2D", "2oo3")


def judge_low_demand(
    name: str, given: LowDemand, supported: Collection[object] | None, facts: ChainFacts | None
) -> BenchRating:
    """The required SIL against the band of the summed PFDavg at the pessimistic end of every input.

    `supported`: the categories that the structure was shown to carry; two channels are believed only where 3 or 4
    is among them. `facts`: whether the elements cover the chain, and which faults the derived proof test shows;
    what it does not show stays until `lifetime_h`. Without them nothing passes.
    """
    trail, title = Trail(), f"low demand of {name}"
    if given.demands_per_year > 1:
        text = (
            f"{given.demands_per_year:g} demands a year are expected: above one a year the function is not in low "
            "demand, so PFDavg may not be claimed; rate it by its failures an hour."
        )
        return _found(title, Verdict.FAIL, f"The claim is refused: {text}", trail)
    doubts = [*_structure(given, supported), *_cover(name, facts)]
    if refusals := [why for verdict, why in doubts if verdict is Verdict.FAIL]:
        text = f"SIL {given.required_sil} required; the claim is refused: {'; '.join(refusals)}."
        return _found(title, Verdict.FAIL, text, trail)
    revealed = None if facts is None else facts.revealed
    try:
        level, total = _level(given, revealed, trail)
    except RatingError as error:
        return _found(
            title, Verdict.FAIL, f"SIL {given.required_sil} required; the claim is refused: {error}.", trail
        )
    text = f"SIL {given.required_sil} required, PFDavg {total:.3g} lies in the band of SIL {level}"
    if level < given.required_sil:
        return _found(title, Verdict.FAIL, f"{text}.", trail)
    if revealed is None:
        why = "no proof test was derived" if facts is None else facts.not_derived
        doubts.append((Verdict.INCONCLUSIVE, f"what the proof test finds was not shown: {why}"))
    if doubts:
        return _found(
            title, Verdict.INCONCLUSIVE, f"{text}, but {'; '.join(why for _, why in doubts)}.", trail
        )
    return _found(
        title, Verdict.PASS, f"{text}; limits of the architecture (IEC 61508-2) are not part of it.", trail
    )


def _found(title: str, verdict: Verdict, sentence: str, trail: Trail) -> BenchRating:
    judged = Judgement("probability of failure on demand", verdict, f"{_BANDS} (from memory)", sentence)
    return BenchRating(title, verdict, (judged,), tuple(trail.steps))


def _structure(given: LowDemand, supported: Collection[object] | None) -> list[tuple[Verdict, str]]:
    redundant = [name for name, element in given.elements.items() if element.architecture in _REDUNDANT]
    names = ", ".join(redundant)
    if not redundant or (supported is not None and {"3", "4"} & set(map(category_name, supported))):
        return []
    if supported is None:
        return [(Verdict.INCONCLUSIVE, f"the redundant channels of {names} were not shown")]
    return [(Verdict.FAIL, f"the structure as wired does not carry the redundancy of {names}")]


def _cover(name: str, facts: ChainFacts | None) -> list[tuple[Verdict, str]]:
    reasons = None if facts is None else facts.unrated_low_demand.get(name)
    if reasons is None:
        return [(Verdict.INCONCLUSIVE, "that the elements cover the whole chain was not shown")]
    return [(Verdict.FAIL, why) for why in reasons]


def _level(given: LowDemand, revealed: Mapping[str, bool] | None, trail: Trail) -> tuple[int, float]:
    rates = {
        f"P{i}": element_pfd(name, element, revealed, trail)
        for i, (name, element) in enumerate(given.elements.items(), 1)
    }
    total = trail.note(
        "function: PFDavg", " + ".join(rates), rates, fsum(rates.values()), source=_ANNEX, mark=_MEMORY
    )
    level = sil_of_pfd(total)
    how = "band of PFDavg: SIL 4 below 1e-4, 3 below 1e-3, 2 below 1e-2, 1 below 1e-1"
    trail.note("function: SIL", how, {"PFDavg": total}, level, source=_BANDS, mark=_MEMORY)
    return level, total
