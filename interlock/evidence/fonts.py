"""The report's two typefaces, and text made safe to print: what a face lacks is spelled, never dropped."""

import re
import unicodedata
from functools import cache
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

__all__ = ["HEAD", "TEXT", "fit", "markup", "register", "visible", "width"]

TEXT: Final = "InterlockText"
"""Face of everything that a file or a person supplied: DejaVu Sans Condensed, shipped beside this module."""

HEAD: Final = "InterlockHead"
"""Bold face of this suite's own fixed words: Bitstream Vera Bold, shipped with reportlab."""

_TEXT_FILE: Final = Path(__file__).parent / "fonts" / "DejaVuSansCondensed.ttf"
_UNPRINTABLE: Final = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}
_RIGHT_TO_LEFT: Final = {"R", "AL", "AN"}  # reportlab would print these in the wrong order


@cache
def register() -> Any:
    """Make both faces known to reportlab (once); returns the text face."""
    face = TTFont(TEXT, str(_TEXT_FILE))
    pdfmetrics.registerFont(face)
    pdfmetrics.registerFont(TTFont(HEAD, "VeraBd.ttf"))
    pdfmetrics.registerFontFamily(TEXT, normal=TEXT, bold=HEAD, italic=TEXT, boldItalic=HEAD)
    return face


def visible(text: str, *, keep_lines: bool = False) -> str:
    """The text in NFC, with each character that the face cannot show, or that hides, spelled [U+XXXX].

    So two names that differ never look alike by way of a missing or an invisible character.
    """
    return "".join(
        char if (keep_lines and char == "\n") or _shows(char) else f"[U+{ord(char):04X}]"
        for char in unicodedata.normalize("NFC", text)
    )


@cache
def _shows(char: str) -> bool:
    return (
        ord(char) in register().face.charToGlyph
        and unicodedata.category(char) not in _UNPRINTABLE
        and unicodedata.bidirectional(char) not in _RIGHT_TO_LEFT
    )


def markup(text: str, *, keep_lines: bool = False) -> str:
    """The text as reportlab paragraph markup that prints exactly `visible(text)`."""
    safe = escape(visible(text, keep_lines=keep_lines))
    safe = re.sub(r" (?= )", "\N{NO-BREAK SPACE}", safe)
    return safe.replace("\n", "<br/>")


def width(text: str, size: float, font: str = TEXT) -> float:
    """Width in points of the text as it would print."""
    register()
    return float(pdfmetrics.stringWidth(text, font, size))


def fit(text: str, room: float, size: float, font: str = TEXT) -> str:
    """The text, cut with an ellipsis where it would be wider than `room` points."""
    text = visible(text)
    if width(text, size, font) <= room:
        return text
    while text and width(text + "…", size, font) > room:
        text = text[: max(0, min(len(text) - 1, int(len(text) * room / width(text + "…", size, font))))]
    return text + "…"
