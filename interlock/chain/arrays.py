"""Terms of the intermediate language evaluated over whole arrays of states at once."""

from collections.abc import Callable
from functools import reduce
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir
from interlock.chain.layout import Layout, Words

__all__ = ["Atom", "Truths", "evaluate", "present"]

Truths = NDArray[np.bool_]
Atom = ir.Now | ir.Was | ir.By


def evaluate(term: ir.Term, size: int, truth: Callable[[Atom], Truths]) -> Truths:
    """The term's truth in each of `size` rows, when `truth` tells that of each atom."""
    match term:
        case ir.Const(value):
            return np.full(size, value)
        case ir.Now() | ir.Was() | ir.By():
            return truth(term)
        case ir.No(part):
            return ~evaluate(part, size, truth)
        case ir.All(parts):
            return reduce(np.logical_and, (evaluate(part, size, truth) for part in parts))
        case ir.Any(parts):
            return reduce(np.logical_or, (evaluate(part, size, truth) for part in parts))
        case _:
            assert_never(term)


def present(layout: Layout, words: Words) -> Callable[[ir.Term], Truths]:
    """An evaluator of terms that speak of the present alone, over one array of states."""
    known: dict[Atom, Truths] = {}

    def atom(one: Atom) -> Truths:
        if one not in known:
            if not isinstance(one, ir.Now):
                raise TypeError(f"{one} speaks of more than the present")
            known[one] = layout.within(words, one.field, one.values)
        return known[one]

    return lambda term: evaluate(term, len(words), atom)
