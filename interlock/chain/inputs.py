"""Which combinations of inputs the rest of a chain cannot tell apart.

An input is a device that nothing moves at once, such as a door or a button. Guards speak of inputs through few
terms ("all doors closed"). Combinations for which all those terms read the same are one class: what the rest of
the chain does by an event depends on the class alone.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir
from interlock.chain.arrays import Atom, Truths, evaluate
from interlock.chain.bitsets import packed
from interlock.chain.layout import Words

__all__ = ["Inputs", "choose_inputs", "terms_over"]

Labels = NDArray[np.uint16]
_IN_WORD: Final = 6  # a field lies within the lowest six bits or above them
_MOST_BITS: Final = 22
_MOST_CLASSES: Final = 256
_SPARE: Final = "spare bit"


@dataclass(frozen=True, slots=True)
class Inputs:
    """Inputs that are numbered together: the number of a combination is its word in the layout of the fields."""

    fields: tuple[ir.Field, ...]
    classes: Labels  # of each combination; the last class is of numbers that are no combination
    many: int  # classes, without the last one

    @property
    def bits(self) -> int:
        """The bits of a number."""
        return len(self.classes).bit_length() - 1

    def where(self, term: ir.Term) -> Words:
        """The combinations for which a term about inputs alone holds, as bits."""
        cube = _Cube(self.fields)
        return packed(np.broadcast_to(evaluate(term, 1, cube.truth), cube.shape).ravel())


def choose_inputs(chain: ir.Chain, also: Sequence[ir.Term] = ()) -> Inputs:
    """As many inputs as can be numbered together and fall into few classes; `also`: terms told apart besides guards."""
    reacting = {device.device for device in chain.reactions}
    free = [field for field in chain.fields if field.name not in reacting and len(field.values) > 1]
    chosen = sorted(free, key=lambda field: len(field.values))
    while True:
        while sum(map(_width, fields := _laid_out(chosen))) > _MOST_BITS:
            chosen.pop()
        terms = list(terms_over(frozenset(field.name for field in chosen), [*_guards(chain), *also]))
        found = _classes(fields, terms)
        if found is not None:
            return found
        spoken = [atom.field for term in terms for atom in ir.atoms(term) if isinstance(atom, ir.Now)]
        chosen.remove(max(chosen, key=lambda field: spoken.count(field.name)))


def terms_over(names: frozenset[str], terms: Sequence[ir.Term]) -> Iterator[ir.Term]:
    """The largest parts of the terms that speak of the named fields alone."""
    for term in terms:
        if term not in {ir.TRUE, ir.FALSE} and {_field(atom) for atom in ir.atoms(term)} <= names:
            yield term
            continue
        match term:
            case ir.No(part):
                yield from terms_over(names, [part])
            case ir.All(parts) | ir.Any(parts):
                inside = [part for part in parts if {_field(atom) for atom in ir.atoms(part)} <= names]
                if inside:
                    yield replace(term, parts=tuple(inside))
                yield from terms_over(names, [part for part in parts if part not in inside])
            case _:
                pass


def _field(atom: ir.Now | ir.Was | ir.By) -> str:
    return atom.field if isinstance(atom, ir.Now) else ""


def _guards(chain: ir.Chain) -> list[ir.Term]:
    reactions, events = (
        (step for one in chain.reactions for step in one.steps),
        (step for one in chain.events for step in one.steps),
    )
    return [step.guard for step in (*reactions, *events)]


def _width(field: ir.Field) -> int:
    return (len(field.values) - 1).bit_length()


def _laid_out(fields: Sequence[ir.Field]) -> tuple[ir.Field, ...]:
    """The fields in an order, with spare bits, in which none lies across the end of the lowest six bits."""
    low = _filling(fields)
    high = [field for field in fields if field not in low]
    spare = _IN_WORD - sum(map(_width, low)) if high else 0
    return (*low, *(ir.Field(f"{_SPARE} {at}", ("no", "yes"), "no") for at in range(spare)), *high)


def _filling(fields: Sequence[ir.Field]) -> list[ir.Field]:
    """Fields that fill six bits as well as can be."""
    filled: dict[int, list[ir.Field]] = {0: []}
    for field in fields:
        more = {bits + _width(field): [*low, field] for bits, low in filled.items()}
        filled = {bits: low for bits, low in (more | filled).items() if bits <= _IN_WORD}
    return filled[max(filled)]


def _classes(fields: tuple[ir.Field, ...], terms: Sequence[ir.Term]) -> Inputs | None:
    """The classes by the terms; None if there are too many."""
    cube = _Cube(fields)
    real = ir.all_of(ir.Now(field.name, frozenset(_values(field))) for field in fields)
    labels, many = np.zeros(cube.shape, np.uint16), 1
    valid = np.broadcast_to(evaluate(real, 1, cube.truth), labels.shape)
    for term in dict.fromkeys(terms):
        labels, many = _compact(2 * labels + evaluate(term, 1, cube.truth), valid, 2 * many)
        if many > _MOST_CLASSES:
            return None
    labels[~valid] = many
    return Inputs(fields, labels.ravel(), many)


class _Cube:
    """All combinations of the fields' values, one axis a field, that of the lowest bits last."""

    def __init__(self, fields: Sequence[ir.Field]) -> None:
        self._fields = {field.name: (len(fields) - at, field) for at, field in enumerate(fields)}
        self.shape = (1, *(1 << _width(field) for field in reversed(fields)))

    def truth(self, atom: Atom) -> Truths:
        """Where an atom holds, along its own axis."""
        if not isinstance(atom, ir.Now):
            raise TypeError(f"{atom} speaks of more than the present")
        axis, field = self._fields[atom.field]
        found = [value in atom.values for value in field.values]
        shape = [size if at == axis else 1 for at, size in enumerate(self.shape)]
        return np.array(found + [False] * (self.shape[axis] - len(found))).reshape(shape)


def _values(field: ir.Field) -> tuple[str, ...]:
    return field.values[:1] if field.name.startswith(_SPARE) else field.values


def _compact(labels: Labels, valid: Truths, many: int) -> tuple[Labels, int]:
    """Labels without gaps."""
    used = np.bincount(labels[valid], minlength=many) > 0
    new = np.zeros(many, np.uint16)
    new[used] = np.arange(used.sum())
    return new[labels], int(used.sum())
