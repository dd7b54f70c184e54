"""What faults do to a bench, as text: the table of faults, sets that lose a function, categories, exclusions."""

from collections.abc import Sequence

from rich.console import Console
from rich.table import Table

from interlock.chain import FaultReport, FaultResult

__all__ = ["show_faults"]


def show_faults(page: Console, report: FaultReport, *, every: bool) -> None:
    """Print the report; without `every`, of sets of several faults only the minimal ones that lose a function."""
    page.print("\nFaults", style="bold")
    page.print(report.search.sentence, soft_wrap=True)
    single = [one for one in report.faults if len(one.set) == 1]
    page.print(_table(single))
    several = [one for one in report.faults if len(one.set) > 1 and (every or (one.minimal and one.lost))]
    if several:
        page.print("Faults that together defeat a function (no fewer of them do):", style="bold")
        for one in several:
            page.print(
                f"  - {' AND '.join(one.words)}: lost: {', '.join(one.lost)}; {_shown(one)}", soft_wrap=True
            )
    for one in [one for one in single if one.lost or one.restarts]:
        _acts(page, one)
    _categories(page, report)
    for excluded in report.exclusions:
        page.print(f"Excluded: {excluded.fault}: {excluded.reason} [{excluded.source}]", soft_wrap=True)


def _shown(one: FaultResult) -> str:
    if not one.verified:
        return "not verified"
    return "whichever comes first shows before the next" if one.detected else "they can come without showing"


def _table(faults: Sequence[FaultResult]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("one fault", "loses", "shows", "masked"):
        table.add_column(name)
    for one in faults:
        lost = ", ".join(one.lost) or ("restarts " + ", ".join(one.restarts) if one.restarts else "nothing")
        shows = (one.at or "yes") if one.detected else "NOT" if one.verified else "not verified"
        table.add_row("; ".join(one.words), lost, shows, "yes" if one.masked else "")
    return table


def _acts(page: Console, one: FaultResult) -> None:
    page.print(one.sentence, soft_wrap=True)
    for number, act in enumerate(one.acts, 1):
        page.print(f"     {number}. {act.words}", soft_wrap=True)


def _categories(page: Console, report: FaultReport) -> None:
    page.print(
        "Categories that the structure can carry (no performance level follows from structure):", style="bold"
    )
    for one in report.categories:
        if one.effect is None:
            page.print(f"  {one.function}: {', '.join(one.categories) or 'none shown'}", soft_wrap=True)
            for sentence in one.sentences:
                page.print(f"     {sentence}", soft_wrap=True)
