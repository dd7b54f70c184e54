"""Temperatures as text: a sentence for each, and the highest of each stop beside it."""

from collections.abc import Sequence

from rich.console import Console

from interlock.replay.temperatures import Peak, Temperature

__all__ = ["show_temperatures"]


def show_temperatures(page: Console, found: Sequence[Temperature]) -> None:
    """Print nothing where the bench file shows no temperature."""
    if not found:
        return
    page.print()
    page.print("Highest temperatures that the samples show; no verdict rests on them.", soft_wrap=True)
    for one in found:
        page.print(one.sentence, soft_wrap=True)
        if one.stops:
            page.print(f"  in the stops: {', '.join(map(_stop, one.stops))}", soft_wrap=True)


def _stop(peak: Peak) -> str:
    when = "" if peak.demand is None else f" at {peak.demand.lo / 1e9:.3f} s"
    if peak.highest is None:
        return f"{peak.function}{when} not shown"
    least = "at least " if peak.at_least else ""
    return f"{peak.function}{when} {least}{peak.highest:g} °C"
