"""One station of the demo: what was done, what came of it, and what had to come of it."""

from dataclasses import dataclass
from pathlib import Path

from interlock.verdict import Verdict

__all__ = ["Station"]


@dataclass(frozen=True, slots=True)
class Station:
    """One station of the walk: the verdict that came out, and the one that had to."""

    title: str
    verdict: Verdict
    expected: Verdict
    says: tuple[str, ...]
    files: tuple[Path, ...]
