"""What faults that go away by themselves do, as data."""

from dataclasses import dataclass
from typing import Any

from interlock.chain.words import Act

__all__ = ["Cleared", "Clearing"]


@dataclass(frozen=True, slots=True)
class Cleared:
    """A fault whose going away starts units or loses functions, and the shortest acts to the first of these."""

    fault: str
    words: str
    restarts: tuple[str, ...]  # units
    lost: tuple[str, ...]  # functions that the fault, while it is there, does not lose
    acts: tuple[Act, ...]
    sentence: str

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "fault": self.fault,
            "words": self.words,
            "restarts": list(self.restarts),
            "lost": list(self.lost),
            "acts": [act.as_json() for act in self.acts],
            "sentence": self.sentence,
        }


@dataclass(frozen=True, slots=True)
class Clearing:
    """All that was found when each fault that may clear came and went; `whole`: everything was seen."""

    found: tuple[Cleared, ...]
    sentence: str
    whole: bool

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "whole": self.whole,
            "sentence": self.sentence,
            "found": [one.as_json() for one in self.found],
        }
