"""Faults that go away by themselves, as text."""

from collections.abc import Sequence
from typing import Final

from rich.console import Console

from interlock.chain.clearing_result import Cleared, Clearing, Pairs
from interlock.cli.check_page import show_way

__all__ = ["show_clearing"]

_BESIDE: Final = (
    "Faults that go away by themselves while another one stays",
    "No such pair does harm that neither of its two faults does alone.",
)
_BOTH: Final = (
    "Two faults that both go away by themselves, or one that comes twice",
    "None of these does harm that one coming and going does not do as well.",
)


def show_clearing(page: Console, clearing: Clearing, *, every: bool) -> None:
    """Print what was searched, then each fault whose going away does harm, with acts and picture if it starts a unit.

    Of those that start none, the shortest is told with its acts; with `every`, all of them.
    """
    page.print("\nFaults that go away by themselves", style="bold")
    page.print(clearing.sentence, soft_wrap=True)
    _found(page, clearing.found, every=every)
    if not clearing.found and clearing.whole:
        page.print("None of them starts a unit or loses a function by going away.")
    _pairs(page, *_BESIDE, clearing.beside, every=every)
    _pairs(page, *_BOTH, clearing.both, every=every)


def _pairs(page: Console, title: str, nothing: str, pairs: Pairs | None, *, every: bool) -> None:
    if pairs is None:
        return
    page.print(f"\n{title}", style="bold")
    page.print(pairs.sentence, soft_wrap=True)
    page.print(
        "This informs and changes no verdict: the rule that a fault's going away starts nothing is judged of one "
        "fault at a time.",
        soft_wrap=True,
    )
    _found(page, pairs.found, every=every)
    if not pairs.found and pairs.whole:
        page.print(nothing)


def _found(page: Console, found: Sequence[Cleared], *, every: bool) -> None:
    shortest = min(found, key=lambda one: len(one.acts), default=None)
    for one in found:
        page.print(f"  - {one.title}. {one.sentence}", soft_wrap=True)
        if every or one.restarts or one is shortest:
            show_way(page, one.acts, one.story)
