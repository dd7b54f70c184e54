"""Every fault of a bench judged: the search, the table of faults, the categories."""

from collections.abc import Collection, Mapping
from typing import Final

from interlock.bench import Bench
from interlock.chain.bent import compile_faulty
from interlock.chain.category import categories
from interlock.chain.fault_list import considered, excluded
from interlock.chain.fault_result import FaultReport, FaultResult, FaultSearch
from interlock.chain.fault_table import Explored, explore_faults
from interlock.chain.fault_telling import FaultTeller
from interlock.chain.layout import TooWide

__all__ = ["MOST_FAULTS", "judge_faults", "supported_categories"]

MOST_FAULTS: Final = 3
MOST_BYTES: Final = 2 << 30


def judge_faults(bench: Bench, most: int, *, most_bytes: int = MOST_BYTES) -> FaultReport:
    """The bench under at most `most` faults (1 to 3) that arrive at any moments, or are there from the start.

    Where memory does not suffice, what was not seen is told as not verified. ValueError for another `most`;
    WiringLoop if the sound bench never comes to rest.
    """
    if not 1 <= most <= MOST_FAULTS:
        raise ValueError(f"{most} faults at a time: from 1 to {MOST_FAULTS} can be judged")
    faulty = compile_faulty(bench, considered(bench))
    try:
        explored = explore_faults(faulty, most, most_bytes)
    except TooWide as wide:
        return _unverified(bench, most, str(wide))
    teller = FaultTeller(faulty, explored)
    results = teller.results()
    return FaultReport(_search(most, explored), results, categories(explored, teller), excluded(bench))


def supported_categories(
    bench: Bench, *, faults: int = 2, effects: Collection[str] | None = None
) -> Mapping[str, tuple[str, ...]]:
    """By function, and by 'function/effect', the categories that the structure can carry, for `rating.rate`.

    A function carries what all its effects carry, or all those named in `effects`.
    """
    found = judge_faults(bench, faults).categories
    each = {(one.function, one.effect): one.categories for one in found if one.effect is not None}
    carried = {f"{function}/{effect}": kinds for (function, effect), kinds in each.items()}
    for function in bench.required.functions:
        chosen = [
            kinds
            for (name, effect), kinds in each.items()
            if name == function and (effects is None or effect in effects)
        ]
        carried[function] = tuple(one for one in "B1234" if chosen and all(one in kinds for kinds in chosen))
    return carried


def _search(most: int, explored: Explored) -> FaultSearch:
    states = explored.sets.count(explored.spread.met.bits)
    count, faults = len(explored.sets.sets) - 1, len(explored.faults)
    if explored.shortfall:
        seen = f"seen so far {states:,} situations. Where no loss is told, that proves nothing."
        said = f"Not verified: {explored.shortfall}; {seen}"
    else:
        kinds = f"{faults} kinds of faults (faults that act alike count as one kind)"
        many = kinds if most == 1 else f"{kinds}, in all {count:,} sets of up to {most}"
        said = (
            f"All was searched: {many}, each present from power-up or arriving at any moment; "
            f"{states:,} situations."
        )
    return FaultSearch(most, count, states, not explored.shortfall, said)


def _unverified(bench: Bench, most: int, why: str) -> FaultReport:
    said = f"Not verified: {why}."
    found = tuple(
        FaultResult((one.id,), (one.words,), (), (), (), False, None, (), False, False, (), False, (), said)
        for one in considered(bench)
    )
    return FaultReport(FaultSearch(most, 0, 0, False, said), found, (), excluded(bench))
