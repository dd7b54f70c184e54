"""How the fields of a state are packed into one 64-bit word."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir

__all__ = ["Layout", "TooWide", "Words"]

Words = NDArray[np.uint64]
_WIDEST = 63


class TooWide(Exception):
    """The fields need more bits than a word has."""

    def __init__(self, bits: int) -> None:
        self.bits = bits
        super().__init__(f"a state needs {bits} bits and a word holds {_WIDEST}")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a field lies in the word, and its values in order."""

    values: tuple[str, ...]
    shift: int
    width: int

    @property
    def mask(self) -> int:
        """The field's bits, all set."""
        return ((1 << self.width) - 1) << self.shift


class Layout:
    """Packs states given by names into words and back, and tells which words have a field in a set."""

    def __init__(self, fields: Sequence[ir.Field]) -> None:
        self.places: dict[str, Place] = {}
        self.bits = 0
        for field in fields:
            width = (len(field.values) - 1).bit_length()
            self.places[field.name] = Place(field.values, self.bits, width)
            self.bits += width
        if self.bits > _WIDEST:
            raise TooWide(self.bits)

    def pack(self, state: dict[str, str]) -> int:
        """The word of a state; fields that this layout does not have are left out."""
        return sum(place.values.index(state[name]) << place.shift for name, place in self.places.items())

    def unpack(self, word: int) -> dict[str, str]:
        """The state of a word."""
        return {name: place.values[(word & place.mask) >> place.shift] for name, place in self.places.items()}

    def within(self, words: Words, field: str, values: frozenset[str]) -> NDArray[np.bool_]:
        """Which words have the field in one of the values."""
        place = self.places[field]
        chosen = np.array([value in values for value in place.values] + [False] * _spare(place))
        index = (words >> np.uint64(place.shift)) & np.uint64((1 << place.width) - 1)
        return chosen[index.astype(np.intp)]

    def put(self, words: Words, field: str, value: str) -> Words:
        """The words with the field set to one value."""
        place = self.places[field]
        bits = np.uint64(place.values.index(value) << place.shift)
        return (words & ~np.uint64(place.mask)) | bits


def _spare(place: Place) -> int:
    return (1 << place.width) - len(place.values)
