"""What a property is: something that must never happen, never last, not come on schedule, or stay possible."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import assert_never

from interlock.chain import ir

__all__ = ["CanReach", "Claim", "NeverLasts", "NeverOnSchedule", "NeverStep", "Premise", "Property", "Timer"]


@dataclass(frozen=True, slots=True)
class Timer:
    """A late reaction, by its number, that takes no less than its stated time: what it waits for must stand by then.

    `waits`: it is still to come. `moving`: the shaft turns or is driven; `driven`: it does not run down yet. A shaft
    that is no longer driven stands after `run_down_ns`.
    """

    event: int
    waits: ir.Term
    moving: ir.Term
    driven: ir.Term
    delay_ns: int
    run_down_ns: int


@dataclass(frozen=True, slots=True)
class NeverStep:
    """No event may make any of these true; the key names what would be at fault.

    Of the `timers` those that hold come only when the shaft stands (see `interlock.chain.by_wait`).
    """

    culprits: Mapping[str, ir.Term]
    timers: tuple[Timer, ...] = ()


@dataclass(frozen=True, slots=True)
class NeverLasts:
    """No state may show any of these, unless late reactions that together take at most `within_ns` can end it.

    None: late reactions of any length may. Reactions one after the other add up (see `interlock.chain.lasting`).
    The limit counts from when `during` (the demand, which each of the culprits implies; None: the culprit itself)
    became true, so that what is lost again within a demand is not counted afresh (see `interlock.chain.clock`);
    and anew after an event by which another demand `begins` meanwhile.
    """

    culprits: Mapping[str, ir.Term]
    within_ns: int | None
    during: ir.Term | None = None
    begins: ir.Term = ir.FALSE


@dataclass(frozen=True, slots=True)
class CanReach:
    """From every state that `start` describes, events that `by` describes lead to each of the goals."""

    goals: Mapping[str, ir.Term]
    start: ir.Term = ir.TRUE
    by: ir.Term = ir.TRUE


@dataclass(frozen=True, slots=True)
class NeverOnSchedule:
    """If nobody acts after an event that `begins` describes, and each late reaction comes exactly when its stated time
    is over, no event may make any of these true (see `interlock.chain.by_schedule`).

    Of reactions that come at the same moment those are first that `first` describes.
    """

    culprits: Mapping[str, ir.Term]
    begins: ir.Term
    first: ir.Term


Claim = NeverStep | NeverLasts | CanReach | NeverOnSchedule


@dataclass(frozen=True, slots=True)
class Premise:
    """A situation that must occur in the model, or the property was never put to the test."""

    what: str
    event: ir.Term


@dataclass(frozen=True, slots=True)
class Property:
    """One judged rule: of which function and device, what it claims, who requires it."""

    id: str
    function: str | None  # None: of the whole bench
    subject: str | None  # device id, where the property is about one
    title: str
    requirement: str
    source: str
    claim: Claim
    premises: tuple[Premise, ...]
    complaint: str  # after "After these steps"; {who} stands for the names of the culprits
    undecided: str = ""  # why it is inconclusive even where nothing violates it: a sentence

    def terms(self) -> tuple[ir.Term, ...]:
        """Every term that judging the property evaluates."""
        premises = tuple(premise.event for premise in self.premises)
        match self.claim:
            case NeverStep(culprits, timers):
                waits = (term for one in timers for term in (one.waits, one.moving, one.driven))
                return (*premises, *culprits.values(), *waits)
            case NeverLasts(culprits, _, during, begins):
                return (*premises, *culprits.values(), *(() if during is None else (during,)), begins)
            case CanReach(goals, start, by):
                return (*premises, *goals.values(), start, by)
            case NeverOnSchedule(culprits, begins, first):
                return (*premises, *culprits.values(), begins, first)
            case _:
                assert_never(self.claim)
