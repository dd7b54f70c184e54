"""Discharges of the DC bus as text: a line for each."""

from collections.abc import Sequence

from rich.console import Console

from interlock.replay.discharging import Discharge

__all__ = ["show_discharges"]


def show_discharges(page: Console, found: Sequence[Discharge]) -> None:
    """Print nothing where the log shows no discharge."""
    if not found:
        return
    page.print()
    page.print(
        "Discharge of the DC bus, from the contactor's opening on, by one exponential; no verdict rests on it. Whatever"
        " it says: measure before you touch.",
        soft_wrap=True,
    )
    for one in found:
        when = "since before the log" if one.demand is None else f"at {one.demand.lo / 1e9:.3f} s"
        page.print(f"{one.function} {when}, {one.subject}: {one.sentence}", soft_wrap=True)
