"""What faults that go away by themselves do, as data."""

from dataclasses import dataclass
from typing import Any

from interlock.chain.losses import Rule
from interlock.chain.story import Story
from interlock.chain.words import Act

__all__ = ["Cleared", "Clearing", "Pairs"]


@dataclass(frozen=True, slots=True)
class Cleared:
    """A fault whose going away starts units, loses functions or breaks rules, and the shortest acts to the first.

    `beside`: another fault that must be there too, if one must; `passing`: it comes and goes as well. The story has a
    column for power-up and one for each act; the arrival of a fault and its going away are acts of their own.
    """

    fault: str
    words: str
    restarts: tuple[str, ...]  # units
    lost: tuple[str, ...]  # functions that the fault, while it is there, does not lose
    acts: tuple[Act, ...]
    sentence: str
    story: Story
    beside: str | None = None
    beside_words: str = ""
    rules: tuple[Rule, ...] = ()
    passing: bool = False

    @property
    def title(self) -> str:
        """What comes and goes, and beside what."""
        if self.beside is None:
            return self.words
        if not self.passing:
            return f"{self.words}, WHILE ALSO {self.beside_words}"
        return (
            f"{self.words}, TWICE" if self.beside == self.fault else f"{self.words}, AND {self.beside_words}"
        )

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        told = {
            "fault": self.fault,
            "words": self.words,
            "restarts": list(self.restarts),
            "lost": list(self.lost),
            "rules": [one.as_json() for one in self.rules],
            "acts": [act.as_json() for act in self.acts],
            "sentence": self.sentence,
            "story": self.story.as_json(),
        }
        return (
            told
            if self.beside is None
            else {**told, "beside": self.beside, "beside_words": self.beside_words, "title": self.title}
        )


@dataclass(frozen=True, slots=True)
class Pairs:
    """What was found when two came together; `whole`: everything was seen."""

    found: tuple[Cleared, ...]
    sentence: str
    whole: bool

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        found = [one.as_json() for one in self.found]
        return {"whole": self.whole, "sentence": self.sentence, "found": found}


@dataclass(frozen=True, slots=True)
class Clearing:
    """All that was found when each fault that may clear came and went; `whole`: everything was seen.

    `beside`: the same beside a lasting fault; `both`: the same of any two that come and go, or of one that does so
    twice; None: that was not asked for.
    """

    found: tuple[Cleared, ...]
    sentence: str
    whole: bool
    beside: Pairs | None = None
    both: Pairs | None = None

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "whole": self.whole,
            "sentence": self.sentence,
            "found": [one.as_json() for one in self.found],
            "beside": None if self.beside is None else self.beside.as_json(),
            "both": None if self.both is None else self.both.as_json(),
        }
