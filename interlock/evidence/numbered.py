"""Pages of which each says how many there are: their margins are drawn once all of them are made."""

from collections.abc import Callable
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Frame

from interlock.evidence.style import FRAME_HEIGHT, MARGIN, WIDTH

__all__ = ["FOOT", "Numbered", "text_frame"]

FOOT = 20 * 72 / 25.4
"""Points below the text."""


class Numbered(Canvas):  # type: ignore[misc] # reportlab has no types
    """`margins` draws what stands around the text of a page, given the canvas and words as "page 3 of 27"."""

    def __init__(self, *args: Any, margins: Callable[[Canvas, str], None], **options: Any) -> None:
        super().__init__(*args, **options)
        self._margins, self._made = margins, list[dict[str, Any]]()

    def showPage(self) -> None:  # noqa: N802 - reportlab's name
        """Keep the page for later."""
        self._made.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        """Finish every page and write the document."""
        for number, state in enumerate(self._made, 1):
            self.__dict__.update(state)
            self._margins(self, f"page {number} of {len(self._made)}")
            super().showPage()
        super().save()


def text_frame() -> Frame:
    """Where the text of a page stands."""
    sides = dict.fromkeys(("leftPadding", "rightPadding", "topPadding", "bottomPadding"), 0)
    return Frame(MARGIN, FOOT, WIDTH, FRAME_HEIGHT, **sides)
