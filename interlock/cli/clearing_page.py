"""Faults that go away by themselves, as text."""

from rich.console import Console

from interlock.chain.clearing_result import Clearing

__all__ = ["show_clearing"]


def show_clearing(page: Console, clearing: Clearing, *, every: bool) -> None:
    """Print what was searched, then each fault whose going away does harm; with the acts if it starts a unit.

    With `every`, the acts of all of them.
    """
    page.print("Faults that go away by themselves:", style="bold")
    page.print(clearing.sentence, soft_wrap=True)
    for one in clearing.found:
        page.print(f"  - {one.words}. {one.sentence}", soft_wrap=True)
        for number, act in enumerate(one.acts if every or one.restarts else (), 1):
            then = f" -> {'; '.join(act.changes)}" if act.changes else ""
            page.print(f"     {number}. {act.words}{then}", soft_wrap=True)
