"""What a check under faults found, as data that serialises to JSON by the published schema."""

from dataclasses import dataclass
from typing import Any

from interlock.chain.fault_list import Excluded
from interlock.chain.losses import Rule
from interlock.chain.story import Story
from interlock.chain.words import Act

__all__ = ["CategoryResult", "Example", "FaultReport", "FaultResult", "FaultSearch"]


@dataclass(frozen=True, slots=True)
class Example:
    """The shortest way on which faults do one thing: lose this function, start this unit, or break this rule."""

    of: str  # a function, a unit or the key of a rule
    steps: int  # after power-up
    acts: tuple[Act, ...]
    story: Story


@dataclass(frozen=True, slots=True)
class FaultResult:
    """One fault, or one set of faults of which no smaller one does the same, and what comes of it.

    `lost`: functions; `effects`: which effects of them. `detected`: it shows before harm is done, `at` says at
    which act (without `detected`: by which act it shows once harm is done); of several faults: whichever comes first
    shows before the next. `masked`: another stop device,
    operated before the reset, hides it. `minimal`: it loses or breaks something that no smaller set does.
    `unnoticed`: the functions that it newly loses while their own demands find none of the faults before the last
    has come. `restarts`: units that begin to make torque unasked. `rules`: what else it breaks. `acts`: the shortest
    way to the loss or restart, `story` what it shows (without acts None), `steps` how many of the acts come after
    power-up; `examples`: the same for each function, unit and rule of which the bench file requires that it
    withstand faults. `verified` is False where the search could not tell; then the absence of a loss means nothing.
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
    rules: tuple[Rule, ...] = ()
    units: tuple[tuple[str, str], ...] = ()  # id and name of each unit that it starts, or breaks a rule for
    may_exclude: str = ""  # of a single fault: on which ground, by its kind, it may be left out of account
    judged_noticed: bool = True  # False: the search could not tell whether it is noticed

    @property
    def starts(self) -> tuple[str, ...]:
        """The names of the units that begin to make torque unasked."""
        names = dict(self.units)
        return tuple(names.get(unit, unit) for unit in self.restarts)

    @property
    def breaks(self) -> tuple[str, ...]:
        """The broken rules in few words for a table, by the bench file's names; not of a stop that is lost whole."""
        alike: dict[tuple[str, str], list[str]] = {}
        for one in self.rules:
            if (one.of, "torque_off") not in self.effects:
                alike.setdefault((one.id, one.unit), []).append(one.of)
        said = {
            "idle_in_mode": "lets the {unit} run in mode {of}",
            "held_in_mode": "lets the {unit} run unheld in mode {of}",
            "mode_change_stops": "{of}: the {unit} is not stopped by a change of the mode",
            "power_removed": "{of}: power of the {unit} stays on",
            "braking": "{of}: the {unit} is not braked",
            "ramp_completed": "{of}: the ramp of the {unit} is cut short",
        }
        names = dict(self.units)
        return tuple(
            said[rule].format(unit=names.get(unit, unit), of=", ".join(of))
            for (rule, unit), of in alike.items()
        )

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "set": list(self.set),
            "words": list(self.words),
            "lost": list(self.lost),
            "effects": [{"function": function, "effect": effect} for function, effect in self.effects],
            "restarts": list(self.restarts),
            "starts": list(self.starts),
            "rules": [one.as_json() for one in self.rules],
            "breaks": list(self.breaks),
            "detected": self.detected,
            "at": self.at,
            "revealed_by": list(self.revealed_by),
            "masked": self.masked,
            "minimal": self.minimal,
            "unnoticed": list(self.unnoticed),
            "verified": self.verified,
            "acts": [act.as_json() for act in self.acts],
            "sentence": self.sentence,
            "may_exclude": self.may_exclude,
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
    """How far the search under faults went: faults at a time, sets, states (each under each set), all seen or not.

    `smaller`: where not all was seen, up to how many faults at a time all was.
    """

    most: int
    sets: int
    states: int
    whole: bool
    sentence: str
    smaller: int = 0

    @property
    def proved(self) -> int:
        """Up to how many faults at a time everything was seen."""
        return self.most if self.whole else self.smaller

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
