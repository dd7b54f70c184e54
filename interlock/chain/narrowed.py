"""A product without some of its edges: what is left of it from power-up on."""

from dataclasses import dataclass, replace

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.stepping import Numbers
from interlock.chain.watched import Watched, parents

__all__ = ["Narrowed", "narrowed"]


@dataclass(frozen=True, slots=True)
class Narrowed:
    """The product that is left, and of each of its edges the number that it had before."""

    watched: Watched
    edges: Numbers

    def told(self, way: tuple[int, ...] | None) -> tuple[int, ...] | None:
        """A way by the edges of the product that it was cut from."""
        return None if way is None else tuple(int(self.edges[one]) for one in way)


def narrowed(watched: Watched, barred: Truths) -> Narrowed:
    """The nodes that can be reached without these edges, numbered breadth first, and the edges between them."""
    first = np.searchsorted(watched.source, np.arange(len(watched.state) + 1))
    number = np.full(len(watched.state), -1, np.int64)
    levels, count, edges = [np.zeros(1, np.int64)], 1, list[Numbers]()
    number[0] = 0
    while len(levels[-1]):
        own = [np.arange(first[node], first[node + 1]) for node in levels[-1]]
        going = np.concatenate([*own, np.empty(0, np.int64)])
        going = going[~barred[going]]
        edges.append(going)
        targets = watched.target[going]
        fresh, at = np.unique(targets[number[targets] < 0], return_index=True)
        level = fresh[np.argsort(at)]
        number[level] = count + np.arange(len(level))
        count += len(level)
        levels.append(level)
    kept, nodes = np.concatenate(edges), np.concatenate(levels)
    target = number[watched.target[kept]]
    left = replace(
        watched,
        state=watched.state[nodes],
        memory=watched.memory[nodes],
        source=number[watched.source[kept]],
        step=watched.step[kept],
        target=target,
        parent=parents(target, len(nodes)),
        expanded=watched.expanded[nodes],
    )
    return Narrowed(left, kept)
