"""How the report looks: paper, colours, paragraph styles, and the four verdict marks.

The marks differ in fill, frame and word, so that a black-and-white print reads the same; nothing but a pass
looks like a pass.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from reportlab.lib.colors import HexColor, white
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Spacer, Table

from interlock.evidence.fonts import HEAD, TEXT, markup, visible
from interlock.evidence.words import SHORT
from interlock.verdict import Verdict

__all__ = [
    "FRAME",
    "FRAME_HEIGHT",
    "GRID",
    "INK",
    "LINE",
    "LOOK",
    "MARGIN",
    "MUTED",
    "PAGE",
    "WIDTH",
    "Look",
    "bullet",
    "facts",
    "fixed",
    "head",
    "heading",
    "mark",
    "mark_commands",
    "note",
    "pieces",
    "said",
    "shortened",
    "small",
]

PAGE: Final = A4
MARGIN: Final = 18 * mm
_TOP, _BOTTOM = 24 * mm, 20 * mm
WIDTH: Final = PAGE[0] - 2 * MARGIN
FRAME_HEIGHT: Final = PAGE[1] - _TOP - _BOTTOM

INK: Final = HexColor(0x1D2733)
MUTED: Final = HexColor(0x5A6672)
LINE: Final = HexColor(0xB8C0C8)
GRID: Final = HexColor(0xE3E7EB)
FRAME: Final[list[tuple[Any, ...]]] = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LINEABOVE", (0, 0), (-1, 0), 0.8, INK),
    ("LINEBELOW", (0, 0), (-1, 0), 0.5, INK),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
    ("TOPPADDING", (0, 0), (-1, -1), 2.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
]
"""The lines and paddings of a table of results."""


@dataclass(frozen=True, slots=True)
class Look:
    """Fill, ink and frame of one verdict's mark."""

    fill: Any
    ink: Any
    edge: Any
    edge_width: float
    dash: tuple[float, ...] | None


LOOK: Final = {
    Verdict.PASS: Look(HexColor(0xDCE9F2), HexColor(0x12496B), HexColor(0x12496B), 0.6, None),
    Verdict.FAIL: Look(HexColor(0x8C1C13), white, HexColor(0x8C1C13), 1.2, None),
    Verdict.INCONCLUSIVE: Look(white, HexColor(0x6B4A00), HexColor(0x9A6B00), 1.2, (3, 2)),
    Verdict.NOT_OBSERVED: Look(white, MUTED, MUTED, 0.9, (0.9, 1.8)),
}

_BODY: Final = ParagraphStyle("body", fontName=TEXT, fontSize=8.8, leading=12, textColor=INK)
_SMALL: Final = ParagraphStyle("small", parent=_BODY, fontSize=7.6, leading=9.8)
_NOTE: Final = ParagraphStyle("note", parent=_SMALL, textColor=MUTED, spaceAfter=3)
_BULLET: Final = ParagraphStyle(
    "bullet", parent=_BODY, leftIndent=13, spaceAfter=1.5, bulletFontName=TEXT, bulletFontSize=8.8
)
_COLUMN: Final = ParagraphStyle("column", parent=_SMALL, fontName=HEAD, fontSize=6.8, textColor=MUTED)
_HEADING: Final = ParagraphStyle(
    "heading", fontName=HEAD, fontSize=11, leading=14, textColor=INK, spaceBefore=12, spaceAfter=4
)


def said(text: str, *, keep_lines: bool = False) -> Flowable:
    """A paragraph of text that a file or a person supplied."""
    return Paragraph(markup(text, keep_lines=keep_lines), _BODY)


def small(text: str, *, keep_lines: bool = False) -> Flowable:
    """The same in table size."""
    return Paragraph(markup(text, keep_lines=keep_lines), _SMALL)


def note(text: str) -> Flowable:
    """A quiet remark in small print."""
    return Paragraph(markup(text), _NOTE)


def fixed(trusted_markup: str, size: float = 8.8) -> Flowable:
    """A paragraph of this suite's own words, which may hold reportlab markup."""
    style = ParagraphStyle(f"fixed{size}", parent=_BODY, fontSize=size, leading=size * 1.36)
    return Paragraph(trusted_markup, style)


def bullet(text: str, sign: str = "–") -> Flowable:
    """One item of a list, behind a dash or a number."""
    return Paragraph(markup(text), _BULLET, bulletText=sign)


def head(text: str) -> Flowable:
    """The heading of a table column: this suite's own words only."""
    return Paragraph(text, _COLUMN)


def heading(text: str, room: float = 90) -> list[Flowable]:
    """A section's heading, kept together with at least `room` points of what follows."""
    return [CondPageBreak(room), Paragraph(text, _HEADING)]


def mark(verdict: Verdict, size: float = 7.2) -> Flowable:
    """The verdict in words, for a cell dressed with `mark_commands`."""
    style = ParagraphStyle(
        f"mark-{verdict}-{size}",
        fontName=HEAD,
        fontSize=size,
        leading=size * 1.3,
        alignment=1,
        textColor=LOOK[verdict].ink,
    )
    return Paragraph(SHORT[verdict], style)


def mark_commands(verdict: Verdict, cell: tuple[int, int]) -> list[tuple[Any, ...]]:
    """Table style of the cell that holds the verdict's mark."""
    look = LOOK[verdict]
    return [
        ("BACKGROUND", cell, cell, look.fill),
        ("BOX", cell, cell, look.edge_width, look.edge, 0, look.dash),
        ("VALIGN", cell, cell, "MIDDLE"),
    ]


def facts(rows: Sequence[tuple[str, str]], label_width: float = 92) -> Flowable:
    """Names and values, side by side; a long value goes on in further rows."""
    cells = [
        [note(shortened(name) if index == 0 else ""), small(piece)]
        for name, value in rows
        for index, piece in enumerate(pieces(value))
    ]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (0, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]
    table = Table(cells, colWidths=[label_width, WIDTH - label_width], style=style, hAlign="LEFT")
    return table if cells else Spacer(0, 0)


def pieces(text: str, length: int = 1500) -> list[str]:
    """The text cut into parts that each fit on a page, so that no cell is ever too tall; at least one."""
    parts, room = [""], length
    for char in unicodedata.normalize("NFC", text):
        room -= len(visible(char, keep_lines=True))
        if room < 0:
            parts.append("")
            room = length
        parts[-1] += char
    return parts


def shortened(text: str, length: int = 200) -> str:
    """The text for a narrow place, where what stands beside it or in the results says the rest."""
    shown = visible(text)
    return shown if len(shown) <= length else shown[:length] + "…"
