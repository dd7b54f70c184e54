"""The rating in the report: what is reached against what is required, why, what decides, and every step."""

from collections.abc import Sequence
from typing import Any, Final

from reportlab.platypus import CondPageBreak, Flowable, LongTable, Spacer

from interlock.evidence.fonts import HEAD, markup
from interlock.evidence.material import Material
from interlock.evidence.rating_rows import Part, Rating
from interlock.evidence.style import (
    FRAME,
    GRID,
    LINE,
    WIDTH,
    bullet,
    fixed,
    head,
    heading,
    mark,
    mark_commands,
    note,
    pieces,
    shortened,
    small,
)
from interlock.rating.result import InputEffect, SubsystemRating
from interlock.rating.step import Mark, Step, shown

__all__ = ["FOOTER", "level_reached", "rating"]

FOOTER: Final = (
    "Ratings are computed from the inputs stated, no certificate. The standards, local codes and licensed practice "
    "come first."
)
"""Under every page of a report with a rating."""

_FRAME: Final = [*FRAME, ("LINEBELOW", (0, 1), (-1, -1), 0.3, GRID)]
_MARKS: Final = {
    Mark.PUBLISHED: "seen in a public text",
    Mark.COMPUTED: "computed",
    Mark.GIVEN: "given in the bench description",
    Mark.COUNTED: "counted, as the register holds it",
    Mark.UNCOUNTED: "given in the bench description, where counts are to decide and NONE WAS GIVEN",
    Mark.PRACTICE: "common practice, no source",
}
_READING: Final = (
    "Each verdict holds at the pessimistic end of every input. A value marked FROM MEMORY was not seen in a public "
    "text of its standard: check it once against a bought copy before it decides; '(clause from memory)' says so of "
    "the number of a clause alone. Figures are shown to six digits and not rounded in between."
)
_TERMS: Final = (
    "PL: performance level, a to e, e the best. PFHd: dangerous failures an hour. MTTFd: mean years until a part or "
    "channel fails dangerously. B10d, T10d: operations and years until 10 % of such parts have failed dangerously. "
    "nop: operations a year. Coverage, DC: share of the dangerous failures that the bench finds by itself; DCavg: its "
    "average. SIL: safety integrity level, 1 to 3 or 4. PFDavg: average probability of failing on demand."
)
_DECIDES: Final = (
    "What decides, the strongest input first: the result if this one input were at the better end of its stated "
    "range (where none is stated, 10 % better) and all others as bad as stated."
)


def level_reached(part: Part) -> str:
    """The level in words, or that none is reached."""
    return f"PL {part.pl}" if part.pl else "no level"


def rating(material: Material) -> list[Flowable]:
    """All pages of the rating; nothing if the bench was not rated."""
    found = material.rating
    if found is None:
        return []
    by = f"Rating by ISO 13849-1:{found.edition}, mission time {found.mission_time_years} years"
    out = [*heading(by, room=190), note(_READING), note(_TERMS), _summary(found), Spacer(0, 5)]
    out += [bullet(f"Measured stop, {text}") for text in found.stops]
    out += [bullet(f"{text[:1].upper()}{text[1:]}") for text in found.counts]
    for part in found.parts:
        out += _part(part)
    out += heading("Every step, to follow with the standard and a pocket calculator", room=150)
    for part in found.parts:
        if part.steps:
            out += [*_title(f"Steps of {part.name}", room=70), _steps(part.steps)]
    return out


def _title(text: str, room: float) -> list[Flowable]:
    return [Spacer(0, 8), CondPageBreak(room), fixed(f"<b>{markup(shortened(text))}</b>", 8.4)]


def _table(rows: list[list[Any]], widths: Sequence[float], style: Sequence[tuple[Any, ...]] = ()) -> Flowable:
    return LongTable(rows, colWidths=list(widths), style=[*_FRAME, *style], repeatRows=1, hAlign="LEFT")


def _summary(found: Rating) -> Flowable:
    names = ("Rated", "Required", "Reached", "PFHd, 1/h", "At the optimistic end", "Verdict")
    rows: list[list[Any]] = [[head(name) for name in names]]
    style: list[tuple[Any, ...]] = []
    for part in found.parts:
        style += mark_commands(part.verdict, (5, len(rows)))
        level, best = (level_reached(part), f"PL {part.pl_at_best}" if part.pl_at_best else "no level")
        cells = [f"PL {part.required_pl}", level, _figure(part.pfhd_per_h, "not known"), best]
        shown = cells if part.is_function else ["", "", "", ""]
        rows.append([small(shortened(part.name)), *map(small, shown), mark(part.verdict)])
    return _table(rows, [WIDTH - 344, 52, 52, 70, 96, 74], style)


def _figure(value: float | None, missing: str = "") -> str:
    return missing if value is None else f"{value:.3g}"


def _part(part: Part) -> list[Flowable]:
    out = [*heading(_capital(shortened(part.name)), room=120), _judgements(part)]
    if part.subsystems:
        out += [*_title("Subsystems, all in series", room=70), _subsystems(part)]
    if part.sensitivities:
        out += [Spacer(0, 4), CondPageBreak(80), note(_DECIDES), _sensitivities(part.sensitivities)]
    return [*out, Spacer(0, 3), *(note(f"Note: {text}") for text in part.notes)]


def _capital(name: str) -> str:
    words = name.replace("_", " ")
    return markup(words[:1].upper() + words[1:])


def _judgements(part: Part) -> Flowable:
    rows: list[list[Any]] = [[head("About"), head("Found, and the clause"), head("Verdict")]]
    style: list[tuple[Any, ...]] = []
    for one in part.judged:
        style += mark_commands(one.verdict, (2, len(rows)))
        ends: list[Any] = [small(one.about), mark(one.verdict)]
        for piece in pieces(f"{one.sentence} [{one.clause}]"):
            rows.append([ends[0], small(piece), ends[1]])
            ends = ["", ""]
    return _table(rows, [86, WIDTH - 160, 74], style)


def _subsystems(part: Part) -> Flowable:
    names = ("Subsystem", "Category and structure", "MTTFd, years", "Coverage", "PFHd, 1/h", "Level")
    rows: list[list[Any]] = [[head(name) for name in names]]
    style: list[tuple[Any, ...]] = []
    for one in part.subsystems:
        weakest = " (weakest)" if one.name == part.weakest else ""
        cells = [f"{shortened(one.name)}{weakest}", _structure(one), _figure(one.mttfd_years)]
        cells += ["" if one.dc_average is None else f"{100 * one.dc_average:.4g} %", _figure(one.pfhd_per_h)]
        rows.append([*map(small, cells), small(f"PL {one.pl}" if one.pl else "refused")])
        for piece in pieces("; ".join(one.refused_because)) if one.refused_because else ():
            style.append(("SPAN", (1, len(rows)), (-1, len(rows))))
            rows.append(
                ["", fixed(f"<font name='{HEAD}'>Claim refused:</font> {markup(piece)}", 7.6), "", "", "", ""]
            )
    return _table(rows, [118, WIDTH - 360, 62, 54, 74, 52], style)


def _structure(one: SubsystemRating) -> str:
    if not one.category:
        return "rated by its maker"
    shown = "structure shown" if one.structure_proven else "structure not shown"
    return f"{one.category}, {shown}"


def _sensitivities(found: Sequence[InputEffect]) -> Flowable:
    names = ("Input", "Used", "If better", "How much better", "Then", "Failure rate divided by")
    rows: list[list[Any]] = [[head(name) for name in names]]
    for one in found:
        how = "stated range" if one.stated_range else "10 % better, tried"
        gain = (
            "lifts a refusal" if one.gain is None else "1 (no effect)" if one.gain == 1 else f"{one.gain:.4g}"
        )
        level = f"PL {one.pl}" if one.pl else "no level"
        cells = [shortened(one.name), shown(one.used), shown(one.if_better), how, level, gain]
        rows.append([small(text) for text in cells])
    return _table(rows, [WIDTH - 350, 64, 64, 88, 50, 84])


def _steps(steps: Sequence[Step]) -> Flowable:
    rows: list[list[Any]] = [
        [head(name) for name in ("", "Step: formula, numbers", "Result", "Source and mark")]
    ]
    for number, step in enumerate(steps, 1):
        ends: list[Any] = [small(str(number)), small(shortened(_result(step))), _source(step)]
        for piece in pieces(_computed(step)):
            rows.append([ends[0], small(piece, keep_lines=True), *ends[1:]])
            ends = ["", "", ""]
    return _table(rows, [22, WIDTH - 22 - 84 - 176, 84, 176], [("LINEBELOW", (0, 1), (-1, -1), 0.3, LINE)])


def _computed(step: Step) -> str:
    filled = step.filled_in()
    numbers = f"\n= {filled}" if filled != step.formula else ""
    return f"{step.title}\n{step.formula}{numbers}"


def _result(step: Step) -> str:
    return f"{shown(step.result)} {step.unit}".strip()


def _source(step: Step) -> Flowable:
    """Where the step comes from; what is from memory stands out in the head's fount."""
    said = markup(shortened(step.source, 400))
    loud = f"<font name='{HEAD}'>FROM MEMORY: check it</font>"
    how = loud if step.mark is Mark.FROM_MEMORY else _MARKS[step.mark]
    return fixed(said if step.source == how else f"{said}; {how}", 7.2)
