"""One exploration of the chain, and on it the products that properties ask for, each with what it must remember."""

from collections.abc import Iterable
from functools import cached_property
from typing import Final

from interlock.chain import ir
from interlock.chain.arrays import Atom, Truths
from interlock.chain.explore import explore
from interlock.chain.observers import needed, observers
from interlock.chain.reach import Reached, reach, reach_soon
from interlock.chain.requirement import Requirement
from interlock.chain.watched import Watched, watch

__all__ = ["MOST_BYTES", "Views"]

MOST_BYTES: Final = 4 << 30
_NEAR: Final = 50_000
"""Situations that each product holds at least, where the graph fell short."""


class Views:
    """Remembers only what the terms at hand speak of: many small products instead of one large one.

    Observers never change what the chain does, so a product without some of them has the same ways. Of the
    memory the graph and each product take three eighths at most; products that do not fit into the rest are
    worked out again when they are asked for again. Where the graph fell short nothing can pass by it any more, and
    each product is looked at near power-up only: as many edges as a whole graph may have states. Where it is soon
    known that there are more than `limit` states, no more of the graph is worked out than these products need.
    """

    def __init__(self, required: Requirement, limit: int, most_bytes: int = MOST_BYTES) -> None:
        self._share, self._kept = 3 * most_bytes // 8, most_bytes // 4
        self._required, self._limit, chain = required, limit, required.compiled.chain
        self._soon = reach_soon(chain, most_bytes=self._kept)
        many = self._soon is not None and self._soon.states > limit
        self.graph = explore(chain, min(limit, _NEAR) if many else limit, self._share)
        self._observers = observers(required)
        self._views: dict[tuple[str, ...], Watched] = {}
        self._atoms: dict[Atom, Truths] = {}
        self._whole = self.graph.whole
        if not self._whole:
            each = max(1, len(self.graph.source) // max(1, self.graph.expanded))
            self._limit = min(limit, max(_NEAR, limit // each))
            if many:
                self.graph = explore(chain, self._limit, self._share)

    @property
    def whole(self) -> bool:
        """Nothing that was asked for so far was cut short."""
        return self._whole

    @cached_property
    def reached(self) -> Reached:
        """Every state of the chain, without edges: this holds far more states than the graph."""
        if self._soon is not None:
            return self._soon
        return reach(self._required.compiled.chain, most_bytes=self._kept)

    def of(self, terms: Iterable[ir.Term]) -> Watched:
        """A product in which the terms can be judged."""
        chosen = needed(self._observers, terms)
        names = tuple(observer.field.name for observer in chosen)
        if names not in self._views:
            while self._views and sum(view.nbytes for view in self._views.values()) > self._kept:
                del self._views[next(iter(self._views))]
            chain = self._required.compiled.chain
            view = watch(chain, self.graph, chosen, self._limit, self._atoms, self._share)
            self._views[names], self._whole = view, self._whole and view.whole
        return self._views[names]
