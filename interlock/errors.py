"""The one error tree: an error is never a verdict, and ends a command with exit code 2.

InterlockError
├── BenchError      a bench description (file:line:column, all problems of a file at once)
├── LogError        a log that cannot be opened at all (file, line or byte)
├── RatingError     an input from which no rating may be computed
├── RegisterError   a register of past tests that is broken, or an entry that does not fit into it
└── EvidenceError   a report, key or signature that cannot be made or read
"""

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = [
    "BenchError",
    "EvidenceError",
    "InterlockError",
    "LogError",
    "Problem",
    "RatingError",
    "RegisterError",
]


class InterlockError(Exception):
    """Something the user must mend before a verdict can exist; its text says what, where, what to do."""


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One mistake in a text file, with its place and its cure."""

    file: str
    line: int  # 1-based
    column: int  # 1-based
    what: str
    why: str
    instead: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.what}: {self.why}; {self.instead}"


class BenchError(InterlockError):
    """A bench description that cannot be used; `problems` holds every mistake found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class LogError(InterlockError):
    """A log file that cannot be opened or whose format nobody here reads."""


class RatingError(InterlockError, ValueError):
    """An input from which no level may be computed; says which input and what would be needed."""


class RegisterError(InterlockError):
    """A register that was changed, cut or is none; or an entry that does not fit into it."""


class EvidenceError(InterlockError):
    """A report, key or signature that cannot be made or read."""
