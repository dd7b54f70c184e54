"""Which categories the structure of a bench was shown to carry, for the claims of its section `rating`.

A function is a chain in series. What the search under faults says is of the whole chain: if it carries a
category, so does each of its subsystems; if it does not, no subsystem is to blame by name.
"""

from collections.abc import Collection, Mapping

from interlock.bench import Bench
from interlock.chain.fault_check import judge_faults
from interlock.chain.fault_list import excluded
from interlock.chain.fault_result import FaultReport
from interlock.rating.inputs import Function, RatingInputs

__all__ = ["fault_report", "left_out", "shown_categories"]

_SINGLE = ("B", "1", "2")  # a single fault may lose the function


def fault_report(bench: Bench, inputs: RatingInputs) -> FaultReport:
    """The search under faults that the claims need: single faults, for category 4 two of them."""
    claims = {one.category for function in inputs.functions.values() for one in function.subsystems.values()}
    return judge_faults(bench, 2 if "4" in claims else 1)


def shown_categories(report: FaultReport, inputs: RatingInputs) -> Mapping[str, Collection[object] | None]:
    """By function and by 'function/subsystem', for `rating.rate`; None: not shown.

    A function carries what every effect that it rates carries, standstill left aside (the chain has no clock). Where
    it carries no more than one channel does, and a subsystem claims no more, that one may be why: the higher claims
    of the others are then not shown, neither refused nor passed. Where every subsystem claims more, the claims are
    refused. Not shown as well: what the search did not see to its end.
    """
    found: dict[str, Collection[object] | None] = {}
    carried = {(one.function, one.effect): one.categories for one in report.categories}
    for name, function in inputs.functions.items():
        wanted = function.effects or [effect for of, effect in carried if of == name and effect is not None]
        sets = [carried.get((name, effect), ()) for effect in wanted if effect != "standstill"]
        common = tuple(one for one in "B1234" if sets and all(one in kinds for kinds in sets))
        found |= _of(name, function, common if report.search.whole and common else None)
    return found


def left_out(bench: Bench) -> tuple[str, ...]:
    """Each fault that the bench's engineer excludes, in words, with reason and source: what the structure rests on."""
    return tuple(
        f"The structure was examined without this fault: {one.words}. Reason given: {one.reason} [{one.source}]."
        for one in excluded(bench)
    )


def _of(
    name: str, function: Function, carried: tuple[str, ...] | None
) -> dict[str, Collection[object] | None]:
    modest = [each for each, one in function.subsystems.items() if one.category in _SINGLE]
    if carried is None or not set(carried) <= set(_SINGLE) or not modest:
        return {name: carried}
    return {name: carried} | {
        f"{name}/{each}": carried if each in modest else None for each in function.subsystems
    }
