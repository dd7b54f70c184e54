"""What faults do to the bench, on paper: the table of faults, sets that add up, examples, categories, exclusions."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from reportlab.platypus import Flowable, KeepTogether, LongTable

from interlock.evidence.fault_rows import (
    CategoryRow,
    Clearings,
    FaultRow,
    FaultRows,
    MaskingRow,
    read_faults,
)
from interlock.evidence.material import Material
from interlock.evidence.story_pages import ROOM, told
from interlock.evidence.style import FRAME, GRID, WIDTH, bullet, head, heading, note, pieces, small

__all__ = ["faults"]

_READING: Final = (
    "A fault may be there from power-up on, or arrive at any moment. 'Noticed' means: before somebody is in danger, "
    "by a bench that no longer works or by a required reaction that visibly fails. A star: another stop device in "
    "series, operated before the reset, hides the fault again (ISO/TR 24119)."
)
_NONE_ALONE: Final = "None of them starts a unit or loses a function by going away."
_NONE_BESIDE: Final = "No such pair does harm that neither of its two faults does alone."
_NONE_BOTH: Final = "None of these does harm that one coming and going does not do as well."
_INFORMS: Final = (
    " This informs and changes no verdict: the rule that a fault's going away starts nothing is judged of one fault "
    "at a time."
)
_MASKING: Final = (
    "Guards whose contacts are in series can hide each other's faults: the one opened next resets what the logic has "
    "seen of the first. Level 1 is the least likely, 3 the most. The best coverage is the most that may be claimed for "
    "their contacts, whatever the logic's maker claims; the best level is what their contacts can carry by it."
)
_NO_SERIES: Final = (
    "No two guards are in series at one device, so no guard hides faults of another. Whether other stop devices in the "
    "same line hide any is told by the stars in the table of single faults."
)
_STRUCTURE: Final = "What the structure can carry is no performance level, and no claim that it was reached."
_FRAME: Final = [*FRAME, ("LINEBELOW", (0, 1), (-1, -1), 0.3, GRID)]


def faults(material: Material) -> list[Flowable]:
    """The whole section; a note where faults were not judged, nothing where the chain was not checked."""
    if material.check is None:
        return []
    rows = read_faults(material.check)
    title = heading("The chain under faults")
    if rows is None:
        return [
            *title,
            note("Faults were not judged: the check was not asked to, and the bench file requires none."),
        ]
    out: list[Flowable] = [*title, small(rows.sentence), note(_READING), *_legend(rows.categories)]
    out += _singles(rows.single)
    out += _sets(rows.several)
    out += _examples(rows)
    out += _cleared("Faults that go away by themselves", rows.cleared, _NONE_ALONE)
    out += _cleared(
        "Faults that go away by themselves while another one stays", rows.beside, _NONE_BESIDE, _INFORMS
    )
    out += _cleared(
        "Two faults that both go away by themselves, or one that comes twice", rows.both, _NONE_BOTH, _INFORMS
    )
    out += _masking(rows.masking)
    out += _categories(rows.categories)
    return out + _exclusions(rows)


def _legend(categories: Sequence[CategoryRow]) -> list[Flowable]:
    """What the tables call the functions."""
    titles = {one.function: one.title for one in categories if one.title}
    said = "; ".join(f"{name}: {title}" for name, title in titles.items())
    return [note(f"The functions, as the tables call them: {said}.")] if said else []


def _table(names: Sequence[str], cells: Iterator[list[str]], widths: Sequence[float]) -> Flowable:
    rows: list[list[Any]] = [[head(name) for name in names]]
    for texts in cells:
        parts = [pieces(text, 900) for text in texts]
        for at in range(max(map(len, parts))):
            rows.append([small(part[at]) if at < len(part) else "" for part in parts])
    return LongTable(rows, colWidths=list(widths), style=_FRAME, repeatRows=1)


def _singles(single: Sequence[FaultRow]) -> list[Flowable]:
    cells = ([one.words, one.harm, one.noticed] for one in single)
    widths = [WIDTH * 0.40, WIDTH * 0.24, WIDTH * 0.36]
    return [_table(("One fault", "What it does", "How it is noticed"), iter(cells), widths)]


def _sets(several: Sequence[FaultRow]) -> list[Flowable]:
    shown = sorted(
        (one for one in several if one.minimal and (one.lost or one.breaks)), key=lambda one: one.detected
    )
    if not shown:
        return []
    title = heading("Faults that together lose a function or break a rule, where fewer of them do not")
    cells = ([one.words, one.harm, one.order] for one in shown)
    widths = [WIDTH * 0.54, WIDTH * 0.24, WIDTH * 0.22]
    return [*title, _table(("Faults", "What they do", "Noticed"), iter(cells), widths)]


def _examples(rows: FaultRows) -> list[Flowable]:
    """Every single fault that does harm, and the shortest set that adds up unnoticed."""
    harmful = [one for one in rows.single if one.steps and (one.lost or one.restarts or one.breaks)]
    unseen = [one for one in rows.several if one.steps and one.lost and not one.detected]
    shown = [*harmful, *sorted(unseen, key=lambda one: one.length)[:1]]
    out: list[Flowable] = heading("How faults do harm, by the shortest acts", room=ROOM) if shown else []
    for one in shown:
        out += told(f"{one.words}. {one.sentence}", one.steps, one.story, states=False)
    return out


def _cleared(title: str, cleared: Clearings | None, nothing: str, aside: str = "") -> list[Flowable]:
    """What was searched and each fault that does harm; with its acts if it starts a unit, or is the shortest."""
    if cleared is None:
        return []
    out: list[Flowable] = [
        *heading(title, room=ROOM if cleared.found else 90),
        small(cleared.sentence + aside),
    ]
    if not cleared.found:
        return [*out, note(nothing)] if cleared.whole else out
    shortest = min(cleared.found, key=lambda one: len(one.steps))
    for one in cleared.found:
        if one.steps and (one.restarts or one is shortest):
            out += told(f"{one.words}. {one.sentence}", one.steps, one.story, states=False)
        else:
            out.append(bullet(f"{one.words}. {one.sentence}"))
    return out


def _masking(masking: Sequence[MaskingRow] | None) -> list[Flowable]:
    if masking is None:
        return []
    title = heading("Guards in series (ISO/TR 24119)")
    if not masking:
        return [*title, note(_NO_SERIES)]
    cells = ([one.guards, one.method, one.level, one.coverage, one.best] for one in masking)
    widths = [WIDTH * share for share in (0.4, 0.15, 0.15, 0.15, 0.15)]
    names = ("Guards", "Method", "Masking level", "Best coverage", "Best level")
    told_whole = KeepTogether([_table(names, cells, widths), *(bullet(one.sentence) for one in masking)])
    return [*title, note(_MASKING), told_whole]


def _categories(categories: Sequence[CategoryRow]) -> list[Flowable]:
    if not categories:
        return []
    title = heading("Categories of ISO 13849-1 that the structure can carry")
    common = {one.reasons[-1] for one in categories if one.reasons}
    once = len(common) == 1 and all(
        len(one.reasons) > 1 for one in categories
    )  # else each says it for itself
    cells = ([one.of, one.carried, " ".join(one.reasons[:-1] if once else one.reasons)] for one in categories)
    widths = [WIDTH * 0.24, WIDTH * 0.14, WIDTH * 0.62]
    said = " ".join([_STRUCTURE, *(common if once else ())])
    return [*title, note(said), _table(("Function, effect", "Can carry", "Why"), cells, widths)]


def _exclusions(rows: FaultRows) -> list[Flowable]:
    title = heading("Faults left out of account, by the bench file")
    if not rows.exclusions:
        return [*title, note("None.")]
    return [*title, *(bullet(text) for text in rows.exclusions)]
