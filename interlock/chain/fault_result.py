"""What a check under faults found, as data that serialises to JSON by the published schema."""

from dataclasses import dataclass
from typing import Any

from interlock.chain.fault_list import Excluded
from interlock.chain.story import Story
from interlock.chain.words import Act

__all__ = ["CategoryResult", "Example", "FaultReport", "FaultResult", "FaultSearch"]


@dataclass(frozen=True, slots=True)
class Example:
    """The shortest way on which faults do one thing: lose this function, or start this unit."""

    of: str
    steps: int  # after power-up
    acts: tuple[Act, ...]
    story: Story


@dataclass(frozen=True, slots=True)
class FaultResult:
    """One fault, or one set of faults of which no smaller one does the same, and what comes of it.

    `lost`: functions; `effects`: which effects of them. `detected`: it shows before harm is done, `at` says at
    which act; of several faults: whichever comes first shows before the next. `masked`: another stop device,
    operated before the reset, hides it. `minimal`: it loses something that no smaller set loses. `unnoticed`: the
    functions that it newly loses while their own demands find none of the faults before the last has come.
    `restarts`: units that begin to make torque unasked. `acts`: the shortest way to the loss or restart, `story`
    what it shows (without acts None), `steps` how many of the acts come after power-up; `examples`: the same for
    each function and unit of which the bench file requires that it withstand faults. `verified` is False where
    the search could not tell; then the absence of a loss means nothing.
    """

    set: tuple[str, ...]
    words: tuple[str, ...]
    lost: tuple[str, ...]
    effects: tuple[tuple[str, str], ...]
    restarts: tuple[str, ...]
    detected: bool
    at: str | None
    revealed_by: tuple[str, ...]
    masked: bool
    minimal: bool
    unnoticed: tuple[str, ...]
    verified: bool
    acts: tuple[Act, ...]
    sentence: str
    steps: int = 0
    story: Story | None = None
    examples: tuple[Example, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "set": list(self.set),
            "words": list(self.words),
            "lost": list(self.lost),
            "effects": [{"function": function, "effect": effect} for function, effect in self.effects],
            "restarts": list(self.restarts),
            "detected": self.detected,
            "at": self.at,
            "revealed_by": list(self.revealed_by),
            "masked": self.masked,
            "minimal": self.minimal,
            "unnoticed": list(self.unnoticed),
            "verified": self.verified,
            "acts": [act.as_json() for act in self.acts],
            "sentence": self.sentence,
            "steps": self.steps,
            "story": None if self.story is None else self.story.as_json(),
        }


@dataclass(frozen=True, slots=True)
class CategoryResult:
    """The categories of ISO 13849-1 that the structure can carry for a function, or for one effect of it."""

    function: str
    effect: str | None  # None: the function with all its effects
    categories: tuple[str, ...]
    sentences: tuple[str, ...]
    title: str = ""  # of the function

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "function": self.function,
            "title": self.title,
            "effect": self.effect,
            "categories": list(self.categories),
            "sentences": list(self.sentences),
        }


@dataclass(frozen=True, slots=True)
class FaultSearch:
    """How far the search under faults went: faults at a time, sets, states (each under each set), all seen or not."""

    most: int
    sets: int
    states: int
    whole: bool
    sentence: str

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "most": self.most,
            "sets": self.sets,
            "states": self.states,
            "whole": self.whole,
            "sentence": self.sentence,
        }


@dataclass(frozen=True, slots=True)
class FaultReport:
    """All that was found under faults."""

    search: FaultSearch
    faults: tuple[FaultResult, ...]
    categories: tuple[CategoryResult, ...]
    exclusions: tuple[Excluded, ...]
