"""What faults do to a bench, as text: the table of faults, sets that lose a function, categories, exclusions."""

from collections.abc import Sequence
from typing import Final

from rich.console import Console
from rich.table import Table

from interlock.chain import CategoryResult, Excluded, FaultReport, FaultResult
from interlock.cli.check_page import show_way

__all__ = ["show_faults"]

_HIDDEN: Final = (
    "* Another stop device in series, operated before the reset, hides the fault again (ISO/TR 24119)."
)

_GROUND: Final = (
    "It may be left out of account (under 'exclusions' in the bench file, with this as its reason) if this holds at "
    "the bench:"
)
_CATEGORY_1: Final = (
    "'power of ... stays on', '... is not braked' and 'the ramp of ... is cut short': the stop is no longer of "
    "category 1 (IEC 60204-1:2016, 9.2.2). "
    "That alone is no loss of the function: each half may fail as long as the other takes the torque away in time. "
    "Nor does it count as noticed, though people may notice that nothing brakes."
)


def show_faults(page: Console, report: FaultReport, *, every: bool) -> None:
    """Print the report; without `every` only those sets of several faults that newly lose a function, and of their
    counterexamples only the shortest one that adds up unnoticed."""
    page.print("\nFaults", style="bold")
    page.print(report.search.sentence, soft_wrap=True)
    _legend(page, report)
    single = [one for one in report.faults if len(one.set) == 1]
    page.print(_table(single))
    if any(one.masked for one in single):
        page.print(_HIDDEN, soft_wrap=True)
    if any(rule.function is not None for one in report.faults for rule in one.rules):
        page.print(_CATEGORY_1, soft_wrap=True)
    harmful = [one for one in single if one.lost or one.restarts or one.rules]
    if harmful:
        page.print("\nHow each of these single faults does harm, by the shortest acts:", style="bold")
    for one in harmful:
        _acts(page, one)
    _several(page, [one for one in report.faults if len(one.set) > 1], every=every)
    _categories(page, report.categories)
    _exclusions(page, report.exclusions)


def _legend(page: Console, report: FaultReport) -> None:
    """What the tables call the functions."""
    titles = {one.function: one.title for one in report.categories if one.effect is None and one.title}
    if titles:
        page.print("The functions, as the tables below call them:")
    for name, title in titles.items():
        page.print(f"  {name}: {title}", soft_wrap=True)


def _table(faults: Sequence[FaultResult]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("one fault", "what it does", "how it is noticed"):
        table.add_column(name)
    for one in faults:
        table.add_row("; ".join(one.words), _harm(one), _noticed(one))
    return table


def _harm(one: FaultResult) -> str:
    said = [f"loses {', '.join(one.lost)}"] if one.lost else []
    said += [f"may start the {' and the '.join(one.starts)} unasked"] if one.restarts else []
    said += one.breaks
    return "; ".join(said) or ("loses nothing" if one.verified else "not verified")


def _noticed(one: FaultResult) -> str:
    if one.detected:
        return (one.at or "yes") + (" *" if one.masked else "")
    if not one.verified or not one.judged_noticed:
        return "not verified"
    return "NOT noticed" if one.at is None else f"NOT before it does harm; {one.at}"


def _several(page: Console, sets: Sequence[FaultResult], *, every: bool) -> None:
    shown = [one for one in sets if every or (one.minimal and (one.lost or one.breaks))]
    if not shown:
        return
    page.print(
        "\nFaults that together lose a function or break a rule, where fewer of them do not:", style="bold"
    )
    for group, title in (
        ("unnoticed", "They can add up unnoticed:"),
        ("noticed", "One is noticed before the next:"),
        ("not judged", "Whether one is noticed before the next is not verified:"),
    ):
        found = [one for one in shown if _group(one) == group]
        if found:
            page.print(f"  {title}")
        for one in found:
            star = " *" if one.masked else ""
            page.print(f"  - {' AND '.join(one.words)}: {_harm(one)}{star}", soft_wrap=True)
    unseen = sorted((one for one in shown if not one.detected and one.acts), key=lambda one: one.steps)
    for one in shown if every else unseen[:1]:
        page.print()
        _acts(page, one)


def _group(one: FaultResult) -> str:
    """How several faults are noticed before the last has come."""
    return "noticed" if one.detected else "unnoticed" if one.judged_noticed else "not judged"


def _acts(page: Console, one: FaultResult) -> None:
    page.print(f"{' AND '.join(one.words)}", style="bold", soft_wrap=True)
    page.print(f"     {one.sentence}", soft_wrap=True)
    if one.may_exclude:
        page.print(f"     {_GROUND} {one.may_exclude}.", soft_wrap=True)
    show_way(page, one.acts, one.story)


def _categories(page: Console, categories: Sequence[CategoryResult]) -> None:
    page.print("\nCategories of ISO 13849-1 that the structure can carry", style="bold")
    for one in categories:
        carried = f"can carry {', '.join(one.categories)}" if one.categories else "none shown"
        if one.effect is None:
            page.print(f"  {one.function}: {carried}. {one.sentences[0]}", soft_wrap=True)
        else:
            effect = one.effect.replace("_", " ")
            page.print(f"     {effect}: {carried}. {' '.join(one.sentences[:-1])}", soft_wrap=True)
    if categories:
        page.print(f"  {categories[0].sentences[-1]}", soft_wrap=True)


def _exclusions(page: Console, exclusions: Sequence[Excluded]) -> None:
    if exclusions:
        page.print("\nFaults left out of account, by the bench file", style="bold")
    for one in exclusions:
        page.print(f"  Excluded: {one.fault} ({one.words}): {one.reason} [{one.source}]", soft_wrap=True)
