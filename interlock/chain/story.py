"""A counterexample as a person can follow it: every device after each act, and the signals that matter over the acts.

Pure data, made from the states along a way; how it is drawn is up to whoever shows it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby
from operator import itemgetter
from typing import Any

from interlock.bench import Bench, kinds_of
from interlock.chain import ir
from interlock.chain.reference import State, holds

__all__ = ["Candidate", "Course", "Part", "Signal", "Story", "story_of"]


class Part(StrEnum):
    """What a signal is in the picture for."""

    FAULT = "fault"
    DEMAND = "demand"
    CONTACT = "contact"
    BUTTON = "button"
    MODE = "mode"
    MEMORY = "memory"  # what the requirement remembers: a stop that nobody has reset yet
    INPUT = "input"  # a torque-off input of a unit that is judged
    EFFECT = "effect"
    DELAY = "delay"  # a late reaction that is due and has not come yet
    WIRE = "wire"  # an input that a fault changes
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Candidate:
    """A signal that may be worth showing: what it says of a device while its term holds."""

    part: Part
    device: str
    words: str
    term: ir.Term
    sound: ir.Term | None = None  # what it would be without the faults, where they can change it

    def fields(self) -> frozenset[str]:
        """The devices and memories that its term speaks of."""
        return frozenset(atom.field for atom in ir.atoms(self.term) if not isinstance(atom, ir.By))


@dataclass(frozen=True, slots=True)
class Signal:
    """One row of a timing picture; `high`: whether it holds at power-up, then after each act."""

    part: Part
    words: str
    high: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Course:
    """One device: its state, in its kind's words, at power-up, then after each act."""

    device: str
    name: str
    states: tuple[str, ...]

    @property
    def stretches(self) -> tuple[tuple[int, str], ...]:
        """Each state that it comes into, and the column from which on it holds."""
        runs = [list(run) for _, run in groupby(enumerate(self.states), key=itemgetter(1))]
        return tuple(run[0] for run in runs)

    @property
    def moves(self) -> bool:
        """It changes at all."""
        return len(self.stretches) > 1


@dataclass(frozen=True, slots=True)
class Story:
    """Every device that has states, in the bench's order, and the chosen signals; one column for each moment."""

    courses: tuple[Course, ...]
    signals: tuple[Signal, ...]

    @property
    def moments(self) -> int:
        """How many columns: power-up, and one for each act."""
        return len(self.courses[0].states)

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "devices": [
                {"device": one.device, "name": one.name, "states": list(one.states)} for one in self.courses
            ],
            "signals": [
                {"part": one.part.value, "words": one.words, "high": list(one.high)} for one in self.signals
            ],
        }


def story_of(
    bench: Bench, states: Sequence[State], candidates: Iterable[Candidate], spoken_of: frozenset[str]
) -> Story:
    """The story of a way by the states at its moments, power-up first.

    A candidate is shown if it changes on the way, or differs from what it would be without faults, or if what was
    judged speaks of it (`spoken_of`: devices and memories). An output that says nothing new is left out.
    """
    moving = {field for field in states[0] if len({state[field] for state in states}) > 1}
    shown: list[tuple[Candidate, Signal]] = []
    for one in candidates:
        if not one.fields() <= states[0].keys():
            continue  # a memory that this search did not need
        high = _levels(one.term, states, moving)
        bent = one.sound is not None and high != _levels(one.sound, states, moving)
        if _matters(one, high, bent, spoken_of) and not _said_before(one, high, shown):
            shown.append((one, Signal(one.part, one.words, high)))
    order = list(Part)
    signals = sorted((signal for _, signal in shown), key=lambda one: order.index(one.part))
    return Story(tuple(_courses(bench, states)), tuple(signals))


def _levels(term: ir.Term, states: Sequence[State], moving: set[str]) -> tuple[bool, ...]:
    """The truth of a term in each state; asked only once where nothing that it speaks of moves."""
    if any(not isinstance(atom, ir.By) and atom.field in moving for atom in ir.atoms(term)):
        return tuple(holds(term, state, state) for state in states)
    return (holds(term, states[0], states[0]),) * len(states)


def _matters(one: Candidate, high: tuple[bool, ...], bent: bool, spoken_of: frozenset[str]) -> bool:
    changes = bent or len(set(high)) > 1
    match one.part:
        case Part.FAULT | Part.INPUT:
            return True
        case Part.WIRE:
            return bent
        case Part.OTHER | Part.DELAY:
            return changes
        case Part.MEMORY:
            return changes or bool(one.fields() & spoken_of)
        case _:
            return changes or one.device in spoken_of


def _said_before(new: Candidate, high: tuple[bool, ...], shown: list[tuple[Candidate, Signal]]) -> bool:
    """Another row shows it; or it is an output that goes along with, or always against, one of the same device."""
    if new.part not in {Part.OTHER, Part.WIRE}:
        return False
    if any(old.term == new.term for old, _ in shown):
        return True
    same = [one.high for old, one in shown if old.device == new.device and old.part is not Part.FAULT]
    return new.part is Part.OTHER and (high in same or tuple(not one for one in high) in same)


def _courses(bench: Bench, states: Sequence[State]) -> Iterator[Course]:
    kinds = kinds_of(bench)
    for name, device in bench.devices.items():
        words = kinds[device.kind].states
        if len(words) > 1:  # else there is nothing that it could do
            yield Course(name, device.name, tuple(words[state[name]] for state in states))
