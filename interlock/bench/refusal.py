"""A text that a bench description may not hold: why, what to write instead, and where in it the mistake is."""

import difflib
from collections.abc import Collection, Iterable
from typing import Final

__all__ = ["Refusal", "advise", "near_words", "quoted"]

_LONGEST_SHOWN: Final = 60
_MOST_CHOICES: Final = 12
_MOST_COMPARED: Final = 300  # a longer search would cost more time than its answer is worth


class Refusal(ValueError):
    """Raised for one value; its text is one line without file, line or column."""

    def __init__(self, why: str, instead: str, column: int | None = None) -> None:
        self.why, self.instead = why, instead
        self.column = column  # 0-based place in the refused text, if one part of it is to blame
        super().__init__(f"{why}; {instead}")


def quoted(value: object) -> str:
    """The value in single quotes, on one line, never longer than a reader can take in."""
    if value is None:
        return "nothing"
    said = str(value).lower() if isinstance(value, bool) else str(value)
    text = "".join(char if char.isprintable() else " " for char in said[: _LONGEST_SHOWN + 1])
    return f"'{text[:_LONGEST_SHOWN]}...'" if len(text) > _LONGEST_SHOWN else f"'{text}'"


def advise(wrong: str, right: Iterable[str]) -> str:
    """Which of the right words was probably meant; if none is near, all of them."""
    choices = sorted(right)
    if near := near_words(wrong, choices):
        return f"did you mean {' or '.join(near)}?"
    if not choices:
        return "remove it: nothing may stand here"
    shown = ", ".join(choices[:_MOST_CHOICES])
    return f"write {'one of ' if len(choices) > 1 else ''}{shown}{', ...' if len(choices) > _MOST_CHOICES else ''}"


def near_words(wrong: str, right: Collection[str], likeness: float = 0.6) -> list[str]:
    """At most three words that are like the wrong one, the likest first."""
    if len(wrong) > _LONGEST_SHOWN or len(right) > _MOST_COMPARED:
        return []
    if same := [word for word in right if word.casefold() == wrong.casefold()]:
        return same[:3]
    near = difflib.get_close_matches(wrong, sorted(right), 3, likeness)
    return [word for word in near if _likeness(word, wrong) > 0.85 * _likeness(near[0], wrong)]


def _likeness(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, other, one).ratio()
