"""A procedure as a sheet of paper: each step with a box to tick and room to write; signed by hand."""

from collections.abc import Sequence
from functools import partial
from io import BytesIO
from typing import Any, Final

from reportlab.lib.units import mm
from reportlab.platypus import BaseDocTemplate, Flowable, PageTemplate, Spacer, Table
from reportlab.platypus.doctemplate import LayoutError

from interlock.cautions import IN_SHORT
from interlock.errors import EvidenceError
from interlock.evidence.fonts import HEAD, TEXT, fit, register
from interlock.evidence.numbered import Numbered, text_frame
from interlock.evidence.style import (
    FRAME_HEIGHT,
    GRID,
    INK,
    LINE,
    MARGIN,
    MUTED,
    PAGE,
    WIDTH,
    bullet,
    facts,
    fixed,
    head,
    heading,
    note,
    said,
    small,
)
from interlock.procedure.models import Procedure, Step

__all__ = ["sheet_pdf"]

_COLUMNS: Final = (9 * mm, 46 * mm, 67 * mm, 20 * mm, WIDTH - 142 * mm)
_HEADING: Final = 32  # points that a heading takes with the room around it
_RULED: Final = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LINEBELOW", (0, 0), (-1, 0), 0.8, LINE),
    ("LINEBELOW", (0, 1), (-1, -1), 0.4, GRID),
    ("LINEBEFORE", (3, 1), (-1, -1), 0.4, GRID),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 3),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
]


def sheet_pdf(procedure: Procedure) -> bytes:
    """The sheet as a PDF on A4; the same procedure gives the same bytes.

    Raises EvidenceError if a text does not fit on a page.
    """
    register()
    out = BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=PAGE,
        title=procedure.procedure.title,
        author="interlock",
        subject=f"procedure for bench {procedure.bench.id}",
        invariant=1,
    )
    document.addPageTemplates([PageTemplate("sheet", [text_frame()])])
    try:
        document.build(_story(procedure), canvasmaker=partial(Numbered, margins=partial(_margins, procedure)))
    except LayoutError as error:
        raise EvidenceError(
            "a text of the procedure is longer than a page; say it in several steps"
        ) from error
    return out.getvalue()


def _story(procedure: Procedure) -> list[Flowable]:
    told: list[Flowable] = [fixed("Procedure sheet", 15), said(procedure.procedure.title), Spacer(0, 6)]
    told += [facts(_head(procedure)), Spacer(0, 6), _blanks(("Date", "Performed by", "Recording (file)"))]
    told += [*heading("Cautions"), *(bullet(text) for text in procedure.cautions)]
    if procedure.before:
        told += [*heading("Before the first step"), _checks(procedure.before)]
    told += [*heading("Steps"), _steps(procedure.steps)]
    if procedure.after:
        told += [*heading("After the last step"), _checks(procedure.after)]
    if procedure.unrevealed:
        told += [*heading("What no step shows: inspect instead"), _inspections(procedure)]
    result = _result()
    return [*told, *heading("Result", result.wrap(WIDTH, FRAME_HEIGHT)[1] + _HEADING), result]


def _head(procedure: Procedure) -> list[tuple[str, str]]:
    bench, cost = procedure.bench, procedure.cost
    rows = [
        ("Bench", f"{bench.name} ({bench.id})"),
        ("Fingerprint", bench.fingerprint or "not tied to one state of the bench description"),
        ("When", procedure.procedure.when),
        ("Source", procedure.procedure.source),
    ]
    if cost is not None:
        rows.append(
            ("Cost of the acts", f"{cost.cost}; proved lower bound {cost.lower_bound} ({cost.source})")
        )
    return rows


def _steps(steps: Sequence[Step]) -> Flowable:
    rows: list[list[Any]] = [
        [head(text) for text in ("NO.", "DO", "MUST BE SEEN", "AS DESCRIBED", "VALUE, REMARK")]
    ]
    for number, step in enumerate(steps, 1):
        wait = [note(f"watch {step.wait_s} s at least")] if step.wait_s > 1 else []
        rows.append(
            [
                small(str(number)),
                [small(step.act), *wait],
                [small(f"– {text}") for text in step.observe],
                _box("yes", "no"),
                [note(f"{text}:") for text in step.note],
            ]
        )
    return Table(rows, colWidths=_COLUMNS, style=_RULED, repeatRows=1, hAlign="LEFT")


def _box(*words: str) -> Flowable:
    cells = [["", small(word)] for word in words]
    style: list[tuple[Any, ...]] = [("BOX", (0, row), (0, row), 0.8, INK) for row in range(len(words))]
    style += [("LEFTPADDING", (0, 0), (-1, -1), 4), ("TOPPADDING", (0, 0), (-1, -1), 0)]
    style += [("BOTTOMPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]
    return Table(cells, colWidths=[10, 30], rowHeights=[11] * len(words), style=style, hAlign="LEFT")


def _checks(texts: Sequence[str]) -> Flowable:
    rows = [[_box(""), small(text)] for text in texts]
    style: list[tuple[Any, ...]] = [("VALIGN", (0, 0), (-1, -1), "TOP"), ("LEFTPADDING", (0, 0), (-1, -1), 0)]
    return Table(rows, colWidths=[8 * mm, WIDTH - 8 * mm], style=style, hAlign="LEFT")


def _inspections(procedure: Procedure) -> Flowable:
    """One row for each thing to inspect, with all faults that it is for."""
    rows: list[list[Any]] = [[head(text) for text in ("INSPECT", "FOR", "DONE", "FOUND")]]
    for inspect in dict.fromkeys(one.inspect for one in procedure.unrevealed):
        faults = [one.words for one in procedure.unrevealed if one.inspect == inspect]
        rows.append([small(inspect), [small(f"– {words}") for words in faults], _box("yes"), ""])
    widths = (62 * mm, 60 * mm, 20 * mm, WIDTH - 142 * mm)
    return Table(rows, colWidths=widths, style=_RULED, repeatRows=1, hAlign="LEFT")


def _result() -> Flowable:
    rows = [
        [
            _wide_box(
                "every step and every inspection was as described",
                "something was not: bench locked off, told to:",
            )
        ],
        [_blanks(("Remarks",))],
        [_blanks(("Performed by (signature)", "Answers for the test (signature)", "Date"))],
    ]
    style = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 4)]
    return Table(rows, colWidths=[WIDTH], style=style, hAlign="LEFT")


def _wide_box(*words: str) -> Flowable:
    cells = [["", small(word)] for word in words]
    style: list[tuple[Any, ...]] = [("BOX", (0, row), (0, row), 0.8, INK) for row in range(len(words))]
    style += [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]
    return Table(cells, colWidths=[10, WIDTH - 20], rowHeights=[12] * len(words), style=style, hAlign="LEFT")


def _blanks(names: Sequence[str]) -> Flowable:
    """A line to write on above each name."""
    gap, width = 12.0, (WIDTH - 12.0 * (len(names) - 1)) / len(names)
    cells: list[Any] = []
    widths: list[float] = []
    style: list[tuple[Any, ...]] = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("TOPPADDING", (0, 0), (-1, -1), 2)]
    for index, name in enumerate(names):
        cells += ([""] if index else []) + [note(name)]
        widths += ([gap] if index else []) + [width]
        style.append(("LINEABOVE", (2 * index, 1), (2 * index, 1), 0.6, INK))
    return Table(
        [[""] * len(cells), cells], colWidths=widths, rowHeights=[20, 16], style=style, hAlign="LEFT"
    )


def _margins(procedure: Procedure, canvas: Any, page: str) -> None:
    canvas.saveState()
    canvas.setFillColor(MUTED)
    canvas.setFont(HEAD, 7)
    canvas.drawString(MARGIN, PAGE[1] - 14 * mm, "INTERLOCK  PROCEDURE SHEET")
    canvas.setFont(TEXT, 7)
    canvas.drawRightString(PAGE[0] - MARGIN, PAGE[1] - 14 * mm, fit(procedure.bench.name, WIDTH / 2, 7))
    canvas.drawString(MARGIN, 13 * mm, fit(IN_SHORT, WIDTH, 7))  # a line of its own: no word of it is cut
    canvas.drawRightString(PAGE[0] - MARGIN, 9 * mm, page)
    canvas.restoreState()
