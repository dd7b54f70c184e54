"""The small language that a bench is compiled to: fields with named values, guarded steps, observers.

A `Chain` is the bench as built. An `Observer` belongs to the requirement: it remembers what has happened
and never changes what the bench does. Terms speak of a field's value before (`Was`) and after (`Now`) an
event and of the event itself (`By`); guards of steps use `Now` alone.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, assert_never

__all__ = [
    "FALSE",
    "TRUE",
    "All",
    "Any",
    "By",
    "Chain",
    "Const",
    "Event",
    "EventKind",
    "Field",
    "No",
    "Now",
    "Observer",
    "Reactions",
    "Step",
    "Term",
    "Was",
    "all_of",
    "any_of",
    "atoms",
    "falls",
    "mapped",
    "no",
    "rises",
    "was",
]


@dataclass(frozen=True, slots=True)
class Const:
    """Always or never true."""

    truth: bool


@dataclass(frozen=True, slots=True)
class Now:
    """After the event (in a guard: at present) the field has one of these values."""

    field: str
    values: frozenset[str]


@dataclass(frozen=True, slots=True)
class Was:
    """Before the event the field had one of these values."""

    field: str
    values: frozenset[str]


@dataclass(frozen=True, slots=True)
class By:
    """The event is one of these (numbers in `Chain.events`)."""

    events: frozenset[int]


@dataclass(frozen=True, slots=True)
class No:
    """True where its part is not."""

    part: "Term"


@dataclass(frozen=True, slots=True)
class All:
    """True where all parts are."""

    parts: tuple["Term", ...]


@dataclass(frozen=True, slots=True)
class Any:
    """True where at least one part is."""

    parts: tuple["Term", ...]


Term = Const | Now | Was | By | No | All | Any
TRUE: Final = Const(True)
FALSE: Final = Const(False)


@dataclass(frozen=True, slots=True)
class Field:
    """A device or observer that is in exactly one of its values at any moment."""

    name: str
    values: tuple[str, ...]
    start: str


@dataclass(frozen=True, slots=True)
class Step:
    """From one of the sources, while the guard holds, to another value."""

    sources: frozenset[str]
    guard: Term
    to: str
    words: str = ""
    takes_ns: int = 0  # of an act: a person needs no less for it


class EventKind(StrEnum):
    """Who causes an event: a person, a device that reacts late, or a fault that arrives."""

    ACT = "act"
    LATE = "reaction"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that may happen to one device; the first step that is possible is taken."""

    device: str
    trigger: str
    kind: EventKind
    steps: tuple[Step, ...]
    delay_ns: int = 0  # of a late reaction: it comes at most this long after it began to wait


@dataclass(frozen=True, slots=True)
class Reactions:
    """What one device does at once; the first step that is possible is taken."""

    device: str
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Chain:
    """A bench as built: its devices, what they do at once, and what may happen to them."""

    fields: tuple[Field, ...]
    reactions: tuple[Reactions, ...]
    events: tuple[Event, ...]


@dataclass(frozen=True, slots=True)
class Observer:
    """A field that only watches: after each event the first update whose term holds sets its value."""

    field: Field
    updates: tuple[tuple[Term, str], ...]


def all_of(parts: Iterable[Term]) -> Term:
    """The conjunction, with constants folded."""
    kept = [part for part in parts if part != TRUE]
    if FALSE in kept:
        return FALSE
    return kept[0] if len(kept) == 1 else All(tuple(kept)) if kept else TRUE


def any_of(parts: Iterable[Term]) -> Term:
    """The disjunction, with constants folded."""
    kept = [part for part in parts if part != FALSE]
    if TRUE in kept:
        return TRUE
    return kept[0] if len(kept) == 1 else Any(tuple(kept)) if kept else FALSE


def no(part: Term) -> Term:
    """The negation, with constants and double negations folded."""
    match part:
        case Const(truth):
            return Const(not truth)
        case No(inner):
            return inner
        case _:
            return No(part)


def mapped(term: Term, change: Callable[[Now | Was | By], Term]) -> Term:
    """The term with each atom replaced by what `change` makes of it, and constants folded."""
    match term:
        case Const():
            return term
        case Now() | Was() | By():
            return change(term)
        case No(part):
            return no(mapped(part, change))
        case All(parts):
            return all_of(mapped(part, change) for part in parts)
        case Any(parts):
            return any_of(mapped(part, change) for part in parts)
        case _:
            assert_never(term)


def was(term: Term) -> Term:
    """A term about the present turned into the same term about the moment before the event."""
    return mapped(term, lambda one: Was(one.field, one.values) if isinstance(one, Now) else one)


def rises(term: Term) -> Term:
    """The event makes the term true."""
    return all_of([no(was(term)), term])


def falls(term: Term) -> Term:
    """The event makes the term false."""
    return all_of([was(term), no(term)])


def atoms(term: Term) -> Iterator[Now | Was | By]:
    """Every atom that the term mentions, in the order written."""
    match term:
        case Const():
            return
        case Now() | Was() | By():
            yield term
        case No(part):
            yield from atoms(part)
        case All(parts) | Any(parts):
            for part in parts:
                yield from atoms(part)
        case _:
            assert_never(term)
