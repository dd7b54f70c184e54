"""Guards in series as text: who hides whose faults, and what coverage may be claimed."""

from collections.abc import Sequence

from rich.console import Console

from interlock.rating.masking import Masking

__all__ = ["show_masking"]


def show_masking(page: Console, found: Sequence[Masking]) -> None:
    """Print one paragraph a logic device; nothing where no guards are in series."""
    if found:
        page.print("Guards in series (ISO/TR 24119):", style="bold")
    for one in found:
        page.print(
            f"  - {one.guards}: {one.method} method, masking level {one.level} of 3, coverage {one.dc} and PL "
            f"{one.max_pl} at best. Why:",
            soft_wrap=True,
        )
        page.print(f"    {one.sentence}", soft_wrap=True)
