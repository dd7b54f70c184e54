"""Every state that a chain can reach, and every event between them, breadth first over packed words."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.chain import ir, reference
from interlock.chain.arrays import present
from interlock.chain.frontier import Frontier
from interlock.chain.layout import Layout, Words

__all__ = ["Graph", "explore"]

Numbers = NDArray[np.int64]
_PATIENCE: Final = 64  # rounds after which one state is followed alone, to prove or refute a loop


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

    @property
    def whole(self) -> bool:
        """Every reachable state is there (False: the limit was hit)."""
        return self.expanded == len(self.states)


def explore(chain: ir.Chain, limit: int) -> Graph:
    """All reachable states, or at least `limit` of them; raises WiringLoop if some event never comes to rest."""
    layout = Layout(chain.fields)
    frontier = Frontier(np.array([layout.pack(reference.start(chain))], dtype=np.uint64), limit)
    for first, words in frontier:
        row, event, raw = _fire(chain, layout, words)
        frontier.add(row + first, event, _settle(chain, layout, raw))
    source, event, target = frontier.edges()
    states = frontier.words()
    first_edge = np.searchsorted(source, np.arange(len(states) + 1))
    return Graph(layout, states, first_edge, source, event, target, frontier.expanded)


def _fire(chain: ir.Chain, layout: Layout, words: Words) -> tuple[Numbers, Numbers, Words]:
    """What each event makes of each state before anything reacts, sorted by state, then by event."""
    found = list(_events(chain, layout, words))
    row = np.concatenate([rows for rows, _, _ in found])
    event = np.concatenate([np.full(len(rows), number) for rows, number, _ in found])
    raw = np.concatenate([raw for _, _, raw in found])
    order = np.lexsort((event, row))
    return row[order], event[order], raw[order]


def _events(chain: ir.Chain, layout: Layout, words: Words) -> Iterator[tuple[Numbers, int, Words]]:
    truth = present(layout, words)
    yield np.empty(0, np.int64), 0, np.empty(0, np.uint64)
    for number, event in enumerate(chain.events):
        free = np.ones(len(words), dtype=np.bool_)
        for step in event.steps:
            ready = free & truth(ir.all_of([ir.Now(event.device, step.sources), step.guard]))
            free &= ~ready
            rows = np.flatnonzero(ready)
            yield rows, number, layout.put(words[rows], event.device, step.to)


def _settle(chain: ir.Chain, layout: Layout, words: Words) -> Words:
    unique, back = np.unique(words, return_inverse=True)
    settled = unique.copy()
    moving = np.arange(len(unique))
    turn = 0
    while moving.size:
        turn += 1
        if turn % _PATIENCE == 0:
            for word in settled[moving].tolist():
                reference.settle(chain, layout.unpack(word))  # raises WiringLoop if there is one
        after = _round(chain, layout, settled[moving])
        moved = after != settled[moving]
        settled[moving] = after
        moving = moving[moved]
    return settled[back]


def _round(chain: ir.Chain, layout: Layout, words: Words) -> Words:
    truth, after = present(layout, words), words
    for device in chain.reactions:
        free = np.ones(len(words), dtype=np.bool_)
        for step in device.steps:
            ready = free & truth(ir.all_of([ir.Now(device.device, step.sources), step.guard]))
            free &= ~ready
            after = np.where(ready, layout.put(after, device.device, step.to), after)
    return after
