"""Stops from maximum speed as text: a row for each stop that tells of one, a line for each that cannot."""

from collections.abc import Sequence
from typing import Final

from rich.console import Console
from rich.table import Table

from interlock.replay.coasting import CoastDown

__all__ = ["show_coast_downs"]

_HOLDS: Final = {True: "yes", False: "NO", None: "open"}


def show_coast_downs(page: Console, found: Sequence[CoastDown]) -> None:
    """Print nothing where standstill was not put to the test."""
    if not found:
        return
    page.print()
    page.print(
        f"From maximum speed ({found[0].max_speed:g} 1/min): how long each stop would take, by the friction of its"
        " own coast-down (95 % band, rounded outwards). No verdict rests on it; it replaces no test from there.",
        soft_wrap=True,
    )
    told = [one for one in found if one.taken is not None]
    if told:
        page.print(_table(told))
    remarks = [(one, f"{one.why}.") for one in told if one.why]
    for sentence, same in _alike(
        [*remarks, *((one, one.sentence) for one in found if one.taken is None)]
    ).items():
        page.print(f"{_named(same)}: {sentence}", soft_wrap=True)


def _table(told: Sequence[CoastDown]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("function")
    for name in ("demand s", "tested 1/min", "least s", "most s", "limit s"):
        table.add_column(name, justify="right")
    table.add_column("holds")
    for one in told:
        table.add_row(
            one.function,
            f"{one.demand.lo / 1e9:.3f}",
            f"{one.tested_speed:.0f}",
            *_ends(one),
            f"{one.limit_ns / 1e9:g}",
            _HOLDS[one.holds],
        )
    return table


def _ends(one: CoastDown) -> tuple[str, str]:
    """Both ends in milliseconds' steps, rounded outwards; '?' if no upper bound is known."""
    if one.taken is None:
        return "?", "?"
    high = one.taken.hi
    return f"{one.taken.lo // 10**6 / 1e3:.3f}", "?" if high is None else f"{-(-high // 10**6) / 1e3:.3f}"


def _alike(said: Sequence[tuple[CoastDown, str]]) -> dict[str, list[CoastDown]]:
    groups: dict[str, list[CoastDown]] = {}
    for one, sentence in said:
        groups.setdefault(sentence, []).append(one)
    return groups


def _named(same: Sequence[CoastDown]) -> str:
    return ", ".join(f"{one.function} at {one.demand.lo / 1e9:.3f} s" for one in same)
