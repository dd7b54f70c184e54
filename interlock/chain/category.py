"""Which categories of ISO 13849-1 the structure can carry, function by function, as far as structure shows it.

B and 1: one channel is enough. 2: as 1, if the machine itself refuses to work with each single fault that loses
the function; that its test is frequent enough is not shown by structure (4.5.4). 3: no single fault loses the
function. 4: nor do faults that come one after the other while the function's own demands find none of them.
Never a performance level: that needs failure rates, coverage and common causes. Source: ISO 13849-1:2015, 6.2.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from interlock.chain.fault_result import CategoryResult
from interlock.chain.fault_table import Effect, Explored
from interlock.chain.fault_telling import FaultTeller

__all__ = ["categories"]

_MOST_NAMED: Final = 3
_NOT_SHOWN: Final = (
    "Structure alone is no performance level: failure rates, coverage and common causes decide too."
)


def categories(explored: Explored, teller: FaultTeller) -> tuple[CategoryResult, ...]:
    """For each function what it carries as a whole, then for each of its effects."""
    return tuple(
        result
        for function in explored.ground.faulty.person.functions
        for result in _function(function, explored, teller)
    )


def _function(function: str, explored: Explored, teller: FaultTeller) -> Iterator[CategoryResult]:
    title = explored.ground.faulty.person.functions[function].title
    effects = [effect for effect in explored.lost if effect[0] == function]
    each = [replace(_effect(effect, explored, teller), title=title) for effect in effects]
    common = tuple(
        category for category in "B1234" if each and all(category in one.categories for one in each)
    )
    best = f"category {common[-1]}" if common else "no category"
    said = f"As a whole the function carries at most {best}, {_limits(each, common)}."
    yield CategoryResult(function, None, common, (said, _NOT_SHOWN), title)
    yield from each


def _limits(each: Sequence[CategoryResult], common: tuple[str, ...]) -> str:
    """Which effects keep the function from more: those that carry no more, else all, each of which lacks something."""
    if len(each) == 1:
        return "as its only effect does"
    weakest = [one for one in each if one.categories == common] or each
    names = ", ".join(str(one.effect).replace("_", " ") for one in weakest)
    return f"no more than the weakest of its effects: {names}"


def _effect(effect: Effect, explored: Explored, teller: FaultTeller) -> CategoryResult:
    carried, sentences = _judged(effect, explored, teller)
    return CategoryResult(effect[0], effect[1], carried, (*sentences, _NOT_SHOWN))


def _judged(
    effect: Effect, explored: Explored, teller: FaultTeller
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    sets, least = explored.sets.sets, sorted(teller.minimal[effect])
    if 0 in least:
        return (), ("The sound bench loses it without any fault: no category.",)
    if single := [number for number in least if len(sets[number]) == 1]:
        return _one_channel(effect, single, explored, teller)
    if explored.shortfall or explored.restless.any():
        why = explored.shortfall or "under some fault sets devices never come to rest"
        return (), (f"Not verified: {why}.",)
    tolerant = f"None of the {len(explored.groups.alike)} kinds of single faults loses it."
    if max(len(one) for one in sets) < 2:
        why = "Category 4 was not looked into: that needs sets of two faults at least."
        return ("B", "1", "3"), (tolerant, why)
    if explored.unshown:
        return ("B", "1", "3"), (tolerant, f"Category 4 is not verified: {explored.unshown}.")
    for number in least:
        if (order := teller.showing.hidden_order(number, effect[0])) is not None:
            return ("B", "1", "3"), (tolerant, _hidden(order, explored))
    most = max(len(one) for one in sets)
    adds_up = f"No up to {most} faults that add up unseen lose it: its own demands find one of them before."
    return ("B", "1", "3", "4"), (tolerant, adds_up)


def _one_channel(
    effect: Effect, single: list[int], explored: Explored, teller: FaultTeller
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    names = [_named((explored.sets.sets[number][0],), explored) for number in single]
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    said = f"A single fault loses it: {'; '.join(names[:_MOST_NAMED])}{more}."
    parts = "Category 1 needs well-tried parts and principles, which structure does not show."
    if all(teller.showing.refuses(number, effect[0]) for number in single):
        tested = "The bench refuses to work with each of these once another act has shown it: category 2 is possible"
        rate = "if it is tested 100 times as often as demanded, or at each demand in time (4.5.4)."
        return ("B", "1", "2"), (said, parts, f"{tested}, {rate}")
    return ("B", "1"), (said, parts)


def _hidden(order: tuple[int, ...], explored: Explored) -> str:
    return (
        f"Faults can add up unseen: {_named(order, explored)}. Using the stop device of this function alone does not "
        "find the first of them, or another stop device hides it again, so category 4 is not carried."
    )


def _named(classes: tuple[int, ...], explored: Explored) -> str:
    return ", then ".join(explored.faults[one].words for one in classes)
