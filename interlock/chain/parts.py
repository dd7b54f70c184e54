"""Parts of a bench that can be searched apart: what is sought, with all that it depends on and nothing else.

What a device does depends on the fields that its guards name, and these on others in turn. Devices, memories and
faults outside of that can neither help nor hinder: with them the same situations come about after as many steps. So
two zones behind one emergency stop are two searches, each of which has the emergency stop and one zone.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import prod
from typing import Final, assert_never

from interlock.chain import ir
from interlock.chain.bent import Faulty
from interlock.chain.compile import Compiled
from interlock.chain.losses import Loss, fault_observers, losses
from interlock.chain.missteps import Misstep, missteps, watched_terms

__all__ = ["Part", "parts"]

_WORTH: Final = 4  # times that the parts must be smaller than the whole, each field in any of its values
_Fields = frozenset[str]


@dataclass(frozen=True, slots=True)
class Part:
    """A bench with some of its devices, memories and faults, and what is sought there.

    Events keep their numbers; those of other devices have no steps. `order`: all that is sought in the whole bench.
    """

    faulty: Faulty
    observers: tuple[ir.Observer, ...]
    sought: tuple[Loss, ...]
    wrong: tuple[Misstep, ...]
    order: tuple[Loss | Misstep, ...]


def parts(faulty: Faulty, worth: float = _WORTH) -> tuple[Part, ...]:
    """What to search instead of the bench: the bench itself, where parts would not be smaller by `worth` times."""
    sought, wrong = losses(faulty), missteps(faulty)
    observers = fault_observers(faulty.person, watched_terms(faulty))
    whole = Part(faulty, observers, sought, wrong, (*sought, *wrong))
    reads = _reads(faulty.chain, observers)
    needs = {one: _closure(reads, _fields_of(one)) for one in whole.order}
    loose = (_closure(reads, [name]) for name in _restless(faulty.chain, needs.values()))
    memories = {one.field.name for one in observers}
    every = dict.fromkeys(fields - memories for fields in (*needs.values(), *loose))
    largest = [one for one in every if not any(one < other for other in every)]
    home = {one: next(at for at in largest if needed - memories <= at) for one, needed in needs.items()}
    fields = [at.union(*(needs[one] for one in needs if home[one] is at)) for at in largest]
    if len(largest) < 2 or worth * _size(whole, fields) > _size(whole, [reads.keys()]) or not _by_own(whole):
        return (whole,)
    return tuple(
        Part(
            _within(faulty, of),
            tuple(one for one in observers if one.field.name in of),
            tuple(one for one in sought if home[one] is at),
            tuple(one for one in wrong if home[one] is at),
            whole.order,
        )
        for at, of in zip(largest, fields, strict=True)
    )


def _size(whole: Part, parts_: Iterable[Iterable[str]]) -> int:
    """How many situations some parts have at most, faults aside."""
    faults = {one.field for one in whole.faulty.faults}
    every = (*whole.faulty.chain.fields, *(one.field for one in whole.observers))
    values = {one.name: len(one.values) for one in every if one.name not in faults}
    return sum(prod(values.get(name, 1) for name in fields) for fields in parts_)


def _by_own(whole: Part) -> bool:
    """Nothing is remembered or sought because of an event alone: so no event of a device that is out can matter."""
    asked = [*(term for one in whole.wrong for term in _events(one)), *(one.begins for one in whole.sought)]
    if any(_where_nothing_changes(term) != ir.FALSE for term in asked):
        return False
    for observer in whole.observers:
        still = [_where_nothing_changes(term) for term, _ in observer.updates]
        lasting = [term != ir.FALSE for term in still]
        if any(isinstance(atom, ir.By) for term in still for atom in ir.atoms(term)):
            return False
        if any(
            now != term for now, (term, _) in zip(still, observer.updates, strict=True) if now != ir.FALSE
        ):
            return False
        if lasting != sorted(lasting, reverse=True):  # what holds on would undo what was noted by an event
            return False
    return True


def _where_nothing_changes(term: ir.Term) -> ir.Term:
    """The term after an event that changes none of its fields."""
    match term:
        case ir.Was(field, values):
            return ir.Now(field, values)
        case ir.Const() | ir.Now() | ir.By():
            return term
        case ir.No(part):
            return ir.no(_where_nothing_changes(part))
        case ir.Any(parts_):
            return ir.any_of(map(_where_nothing_changes, parts_))
        case ir.All(parts_):
            found = [_where_nothing_changes(part) for part in parts_]
            inner = (one for part in found if isinstance(part, ir.All) for one in part.parts)
            flat = {*found, *inner}
            return ir.FALSE if any(ir.no(one) in flat for one in flat) else ir.all_of(found)
        case _:
            assert_never(term)


def _fields_of(one: Loss | Misstep) -> _Fields:
    """Every field that tells whether it is there, and how long its limit runs."""
    if isinstance(one, Misstep):
        return _fields(_events(one))
    return _fields([one.term, one.begins, *(() if one.during is None else (one.during,))])


def _events(one: Misstep) -> tuple[ir.Term, ...]:
    return (one.event,) if one.begins is None else (one.event, one.begins)


def _fields(terms: Iterable[ir.Term]) -> _Fields:
    atoms = (atom for term in terms for atom in ir.atoms(term))
    return frozenset(atom.field for atom in atoms if not isinstance(atom, ir.By))


def _reads(chain: ir.Chain, observers: Iterable[ir.Observer]) -> Mapping[str, _Fields]:
    """The fields that decide what becomes of each device and memory."""
    found: dict[str, _Fields] = {}
    what_happens: tuple[ir.Reactions | ir.Event, ...] = (*chain.reactions, *chain.events)
    for one in what_happens:
        found[one.device] = found.get(one.device, frozenset()) | _fields(step.guard for step in one.steps)
    still = {one.name: frozenset[str]() for one in chain.fields}
    return still | found | {one.field.name: _fields(term for term, _ in one.updates) for one in observers}


def _closure(reads: Mapping[str, _Fields], names: Iterable[str]) -> _Fields:
    found, waiting = set[str](), list(names)
    while waiting:
        if (name := waiting.pop()) not in found:
            found.add(name)
            waiting += reads.get(name, ())
    return frozenset(found)


def _restless(chain: ir.Chain, covered: Iterable[_Fields]) -> list[str]:
    """Devices outside of all parts that react at once: that they come to rest must be seen somewhere."""
    seen = frozenset[str]().union(*covered)
    return [one.device for one in chain.reactions if one.device not in seen]


def _within(faulty: Faulty, fields: _Fields) -> Faulty:
    chain, compiled = faulty.chain, faulty.truth.compiled
    less = ir.Chain(
        tuple(one for one in chain.fields if one.name in fields),
        tuple(one for one in chain.reactions if one.device in fields),
        tuple(one if one.device in fields else replace(one, steps=()) for one in chain.events),
    )
    truth = replace(faulty.truth, compiled=Compiled(less, compiled.outputs, compiled.inputs))
    kept = tuple(one for one in faulty.faults if one.field in fields)
    return replace(faulty, faults=kept, truth=truth)
