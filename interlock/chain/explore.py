"""Every state that a chain can reach, and every event between them, breadth first over packed words."""

from dataclasses import dataclass

import numpy as np

from interlock.chain import ir, reference
from interlock.chain.frontier import Frontier
from interlock.chain.layout import Layout, Words
from interlock.chain.stepping import Numbers, fire, settle

__all__ = ["Graph", "Numbers", "explore"]


@dataclass(frozen=True, slots=True)
class Graph:
    """The flat transition relation: states by number, power-up first, and edges sorted by their source."""

    layout: Layout
    states: Words
    first_edge: Numbers  # of each state, and the end
    source: Numbers
    event: Numbers
    target: Numbers
    expanded: int  # states before this number have all their edges
    shortfall: str = ""  # at what the search ended before it was whole

    @property
    def whole(self) -> bool:
        """Every reachable state is there (False: the limit was hit)."""
        return self.expanded == len(self.states)

    def unpack(self, state: int) -> reference.State:
        """The state of this number, by names."""
        return self.layout.unpack(self.layout.numbers(self.states[state : state + 1])[0])


def explore(chain: ir.Chain, limit: int, most_bytes: int | None = None) -> Graph:
    """All reachable states, or at least `limit` of them, or as many as `most_bytes` of memory hold.

    Raises WiringLoop if some event never comes to rest.
    """
    layout, events = Layout(chain.fields), list(enumerate(chain.events))
    start = layout.words([layout.pack(reference.start(chain))])
    frontier = Frontier(start, limit, most_bytes=most_bytes)
    for first, words in frontier:
        row, event, raw = fire(events, layout, words)
        frontier.add(row + first, event, settle(chain, layout, raw))
    source, event, target = frontier.edges()
    states = frontier.words()
    first_edge = np.searchsorted(source, np.arange(len(states) + 1))
    return Graph(layout, states, first_edge, source, event, target, frontier.expanded, frontier.shortfall)
