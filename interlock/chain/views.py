"""One exploration of the chain, and on it the products that properties ask for, each with what it must remember."""

from collections.abc import Iterable

from interlock.chain import ir
from interlock.chain.arrays import Atom, Truths
from interlock.chain.explore import explore
from interlock.chain.observers import needed, observers
from interlock.chain.requirement import Requirement
from interlock.chain.watched import Watched, watch

__all__ = ["Views"]


class Views:
    """Remembers only what the terms at hand speak of: many small products instead of one large one.

    Observers never change what the chain does, so a product without some of them has the same ways.
    """

    def __init__(self, required: Requirement, limit: int) -> None:
        self.graph = explore(required.compiled.chain, limit)
        self._required, self._limit = required, limit
        self._observers = observers(required)
        self._views: dict[tuple[str, ...], Watched] = {}
        self._atoms: dict[Atom, Truths] = {}

    @property
    def whole(self) -> bool:
        """Nothing that was asked for so far was cut short."""
        return self.graph.whole and all(view.whole for view in self._views.values())

    def of(self, terms: Iterable[ir.Term]) -> Watched:
        """A product in which the terms can be judged."""
        chosen = needed(self._observers, terms)
        names = tuple(observer.field.name for observer in chosen)
        if names not in self._views:
            chain = self._required.compiled.chain
            self._views[names] = watch(chain, self.graph, chosen, self._limit, self._atoms)
        return self._views[names]
