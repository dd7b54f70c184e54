"""States that no acts whatever can tell apart: one class for all of them, so that faults alike are followed once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from interlock.procedure.moves import Table

__all__ = ["Alike", "alike"]

Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Alike:
    """The class of each state at rest that moves lead to, and what its states have in common."""

    of: Numbers  # of each state its class; -1: no move leads there
    target: tuple[list[int], ...]  # moves by classes
    seen: list[int]  # of each class, what is observed


def alike(table: Table, first: Numbers, seen: NDArray[np.uint64]) -> Alike:
    """Classes of what moves lead to from these states at rest: split until all of one class look and go the same."""
    met = np.unique(first)
    while len(more := np.unique(np.concatenate([met, table.target[:, met].ravel()]))) > len(met):
        met = more
    of = np.full(table.target.shape[1], -1, np.int64)
    of[met] = np.arange(len(met))
    target = of[table.target[:, met]]
    looks, classes = np.unique(seen[met], return_inverse=True)
    count = len(looks)
    while True:
        split = classes
        for row in target:
            split = np.unique(split * count + classes[row], return_inverse=True)[1]
        if split.max() + 1 == count:
            break
        classes, count = split, int(split.max()) + 1
    one_of = np.zeros(count, np.int64)
    one_of[classes] = np.arange(len(met))
    of[met] = classes
    return Alike(of, tuple(classes[row[one_of]].tolist() for row in target), seen[met][one_of].tolist())
