"""Due dates as text: what is due first, the reason under each line."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Final

from rich.console import Console
from rich.text import Text

from interlock.cli.common import said
from interlock.register import Register
from interlock.register.due import Due
from interlock.verdict import Verdict, worst

__all__ = ["show"]

_WORDS: Final = {Verdict.PASS: "not yet", Verdict.FAIL: "due now", Verdict.INCONCLUSIVE: "cannot be said"}
_ASKS: Final = {"proof_test": "proof test of", "replacement": "replacement of", "timing": "timing of"}
_NOTE: Final = (
    "A proof test counts from the day on which the log showed every required effect of the function, on a bench of the "
    "same description. Whether its procedure tried each channel by itself, the register does not know."
)


def show(page: Console, register: Register, items: Sequence[Due], today: date, calendar: Path | None) -> None:
    """Print what is due, the earliest first; what is due at once stands at the head."""
    page.print(
        Text(f"Due on {today}, by {register.path} (hash of the last line {register.sha256})"), soft_wrap=True
    )
    for one in sorted(items, key=_order):
        when = (
            one.due.isoformat() if one.due is not None else "at once" if one.verdict is Verdict.FAIL else "?"
        )
        head = Text.assemble(
            f"{when:10}  {one.bench}: {_ASKS[one.kind]} {one.subject}: ",
            Text(_WORDS.get(one.verdict, str(one.verdict)), style=said(one.verdict).style),
        )
        page.print(head, soft_wrap=True)
        source = f" [{one.source}]" if one.source else ""
        page.print(Text(f"            {one.sentence}{source}"), soft_wrap=True)
    page.print(Text(_NOTE), soft_wrap=True)
    if calendar is not None:
        page.print(Text(f"{calendar}: written"), soft_wrap=True)
    page.print(Text.assemble("Verdict: ", said(worst(one.verdict for one in items))))


def _order(one: Due) -> tuple[bool, date, str, str]:
    first = one.due is None and one.verdict is Verdict.FAIL
    return not first, one.due or date.min, one.bench, one.subject
