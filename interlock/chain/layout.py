"""How the fields of a state are packed into one 64-bit word, or into two where one does not suffice."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir

__all__ = ["Keys", "Layout", "TooWide", "Words", "either", "keys", "same", "unique"]

Words = NDArray[np.uint64]
"""Packed states: one word each, shape (n,); or two words each, shape (n, 2), the lower one first."""
Keys = NDArray[Any]
"""A state as one thing that sorts and compares: its word, or the bytes of both."""
_USED: Final = 63  # bits of a word that are used, so that a word is also a positive int64
_MOST: Final = 2
_BOTH: Final = np.dtype("S16")


class TooWide(Exception):
    """The fields need more bits than the words of a state have."""

    def __init__(self, bits: int, most: int) -> None:
        self.bits = bits
        super().__init__(f"a state needs {bits} bits, and at most {most} can be packed")


@dataclass(frozen=True, slots=True)
class Place:
    """Where a field lies, and its values in order."""

    values: tuple[str, ...]
    column: int  # the word
    shift: int  # in that word
    width: int

    @property
    def mask(self) -> int:
        """The field's bits, all set, in its word."""
        return ((1 << self.width) - 1) << self.shift


class Layout:
    """Packs states given by names into words and back, and tells which words have a field in a set.

    A state's number is its words as one whole number, the second word 64 bits up.
    """

    def __init__(self, fields: Sequence[ir.Field]) -> None:
        self.places: dict[str, Place] = {}
        self.bits, column, shift = 0, 0, 0
        for field in fields:
            width = (len(field.values) - 1).bit_length()
            self.bits += width
            if shift + width > _USED:
                column, shift = column + 1, 0
            self.places[field.name] = Place(field.values, column, shift, width)
            shift += width
        self.columns = column + 1
        if self.columns > _MOST:
            raise TooWide(self.bits, _MOST * _USED)
        self._spare = {name: _spare(place) for name, place in self.places.items()}

    def pack(self, state: dict[str, str]) -> int:
        """The number of a state; fields that this layout does not have are left out."""
        return sum(
            place.values.index(state[name]) << place.shift + 64 * place.column
            for name, place in self.places.items()
        )

    def unpack(self, number: int) -> dict[str, str]:
        """The state of a number."""
        return {
            name: place.values[(number >> 64 * place.column & place.mask) >> place.shift]
            for name, place in self.places.items()
        }

    def words(self, numbers: Iterable[int]) -> Words:
        """States by their numbers, packed."""
        if self.columns == 1:
            return np.array(list(numbers), np.uint64)
        rows = [[number & (1 << 64) - 1, number >> 64] for number in numbers]
        return np.array(rows, np.uint64).reshape(-1, _MOST)

    def numbers(self, words: Words) -> list[int]:
        """The numbers of packed states."""
        if words.ndim == 1:
            return list(words.tolist())
        return [low | high << 64 for low, high in words.tolist()]

    def mask(self, fields: Iterable[str]) -> Words:
        """The bits of some fields, as one word, or two."""
        bits = [0] * self.columns
        for place in map(self.places.__getitem__, fields):
            bits[place.column] |= place.mask
        return np.array(bits if self.columns > 1 else bits[0], np.uint64)

    def index(self, words: Words, field: str) -> NDArray[np.intp]:
        """The field's value in each of the words, as its place among the field's values."""
        place = self.places[field]
        column = words if words.ndim == 1 else words[:, place.column]
        return ((column >> np.uint64(place.shift)) & np.uint64((1 << place.width) - 1)).astype(np.intp)

    def within(self, words: Words, field: str, values: frozenset[str]) -> NDArray[np.bool_]:
        """Which words have the field in one of the values."""
        chosen = [value in values for value in self.places[field].values]
        return np.array(chosen + self._spare[field])[self.index(words, field)]

    def put(self, words: Words, field: str, value: str) -> Words:
        """The words with the field set to one value."""
        place, found = self.places[field], words.copy()
        column = found if words.ndim == 1 else found[:, place.column]
        column &= ~np.uint64(place.mask)
        column |= np.uint64(place.values.index(value) << place.shift)
        return found


def _spare(place: Place) -> list[bool]:
    return [False] * ((1 << place.width) - len(place.values))


def keys(words: Words) -> Keys:
    """One thing a state that sorts and compares: the word, or the bytes of both words."""
    if words.ndim == 1:
        return words
    return np.ascontiguousarray(words[:, ::-1].astype(">u8")).view(_BOTH).ravel()


def same(one: Words, other: Words) -> NDArray[np.bool_]:
    """Which states are the same, row by row."""
    equal: NDArray[np.bool_] = one == other
    return equal if equal.ndim == 1 else np.logical_and.reduce(equal, axis=1)


def either(which: NDArray[np.bool_], one: Words, other: Words) -> Words:
    """Row by row the first where `which` is true, else the second."""
    return np.where(which if one.ndim == 1 else which[:, None], one, other)


def unique(words: Words) -> tuple[Words, NDArray[np.intp]]:
    """The different states in ascending order, and which of them each row is."""
    if words.ndim == 1:
        found, back = np.unique(words, return_inverse=True)
        return found, back
    _, first, back = np.unique(keys(words), return_index=True, return_inverse=True)
    return words[first], back
