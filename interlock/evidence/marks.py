"""The marks that a report carries in its document information, so that signing can tell what it signs."""

from typing import Final

__all__ = ["DEMO_LINE", "is_demo_marked", "is_report", "keywords"]

DEMO_LINE: Final = "DEMO - not evidence - SIGNED WITH A DEMO KEY"
"""Printed on each page of a demo report; only a demo key may sign one, so that the line is true."""

_REPORT: Final = "interlock-report"
_DEMO: Final = "interlock-report demo-key"


def keywords(*, demo: bool) -> str:
    """The document's keywords; never made of anything that a file or a person supplied."""
    return _DEMO if demo else _REPORT


def is_report(text: str) -> bool:
    """Whether these are the keywords of a report of this suite."""
    return text in (_REPORT, _DEMO)


def is_demo_marked(text: str) -> bool:
    """Whether these are the keywords of a report whose pages carry the demo line."""
    return text == _DEMO
