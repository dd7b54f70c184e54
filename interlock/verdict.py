"""The four verdicts and how they combine: the worst one rules, and absence of evidence never passes."""

from collections.abc import Iterable
from enum import StrEnum
from typing import Final

__all__ = ["EXIT_CODE", "Verdict", "worst"]


class Verdict(StrEnum):
    """What the evidence allows to be said."""

    PASS = "pass"  # noqa: S105 - a verdict, not a password
    FAIL = "fail"
    INCONCLUSIVE = "inconclusive"
    NOT_OBSERVED = "not_observed"

    def __bool__(self) -> bool:
        raise TypeError("a verdict is neither true nor false: compare it by name")


_WORST_FIRST: Final = (Verdict.FAIL, Verdict.INCONCLUSIVE, Verdict.NOT_OBSERVED, Verdict.PASS)

EXIT_CODE: Final = {Verdict.PASS: 0, Verdict.FAIL: 1, Verdict.INCONCLUSIVE: 3, Verdict.NOT_OBSERVED: 3}
"""Exit code of a command whose overall verdict is the key (2 is kept for bad usage and bad input)."""


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The worst verdict: fail, then inconclusive, then not_observed; of none at all: not_observed."""
    seen = set(verdicts)
    return next((verdict for verdict in _WORST_FIRST if verdict in seen), Verdict.NOT_OBSERVED)
