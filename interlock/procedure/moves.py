"""What a person does in one go at the bench, and the bench at rest after it.

The two contacts of a guard cannot be moved apart by a person, so acts that leave the channels of a device in
disagreement are joined with those that end it. After each act the late reactions come in the order of their
delays until nothing waits any more: in a proof test a person waits.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.expr import evaluate
from interlock.chain import ir
from interlock.chain.explore import Graph
from interlock.errors import InterlockError

__all__ = ["Move", "Table", "moves_of", "table_of"]

Numbers = NDArray[np.int64]
_PATIENCE: Final = 64  # late reactions in a row after which a bench counts as never at rest


@dataclass(frozen=True, slots=True)
class Move:
    """What one person does to one device; `orders`: the orders in which its contacts may move."""

    device: str
    orders: tuple[tuple[str, ...], ...]
    words: str

    @property
    def id(self) -> str:
        """`device.act`, of several acts with a plus between."""
        return f"{self.device}.{'+'.join(self.orders[0])}"


@dataclass(frozen=True, slots=True)
class Table:
    """For each move and state: the state at rest after it, and whether it is possible at all."""

    target: Numbers  # moves by states
    possible: NDArray[np.bool_]
    rest: Numbers  # of each state, once every late reaction has come
    takes_ns: Numbers  # moves by states: as long as the late reactions after it may take, one after the other


def moves_of(bench: Bench) -> tuple[Move, ...]:
    """Every move of every device, in the order of the bench file."""
    kinds = kinds_of(bench)
    return tuple(
        one
        for name, device in bench.devices.items()
        for one in _of_kind(name, device.name, kinds[device.kind])
    )


def table_of(graph: Graph, events: tuple[ir.Event, ...], moves: tuple[Move, ...], order: int) -> Table:
    """The moves over all states, contacts in the given order (0: the first, -1: the last).

    An act that is impossible in a state leaves it as it is. Raises InterlockError if a bench never rests.
    """
    by_event = {(one.device, one.trigger): _next(graph, number) for number, one in enumerate(events)}
    rest, until_ns = _resting(graph, events)
    target = np.empty((len(moves), len(graph.states)), np.int64)
    possible, takes_ns = np.empty(target.shape, np.bool_), np.empty(target.shape, np.int64)
    for row, move in enumerate(moves):
        at, free = np.arange(len(graph.states)), np.ones(len(graph.states), np.bool_)
        for act in move.orders[order]:
            after = by_event[move.device, act][at]
            free &= after >= 0
            at = np.where(after >= 0, after, at)
        target[row], possible[row], takes_ns[row] = rest[at], free, until_ns[at]
    return Table(target, possible, rest, takes_ns)


def _next(graph: Graph, event: int) -> Numbers:
    """The state after an event; -1 where it cannot happen."""
    found = np.full(len(graph.states), -1, np.int64)
    chosen = graph.event == event
    found[graph.source[chosen]] = graph.target[chosen]
    return found


def _resting(graph: Graph, events: tuple[ir.Event, ...]) -> tuple[Numbers, Numbers]:
    """The state in which each state comes to rest, and how long that may take, ns."""
    late = [(one.delay_ns, number) for number, one in enumerate(events) if one.kind is ir.EventKind.LATE]
    step, delay = np.arange(len(graph.states)), np.zeros(len(graph.states), np.int64)
    for delay_ns, number in sorted(late, reverse=True):  # the quickest is put last and so prevails
        after = _next(graph, number)
        step, delay = np.where(after >= 0, after, step), np.where(after >= 0, delay_ns, delay)
    at, takes_ns = step, delay
    for _ in range(_PATIENCE):
        if (step[at] == at).all():
            return at, takes_ns
        at, takes_ns = step[at], takes_ns + delay[at]
    raise InterlockError("after some act the bench never comes to rest; no procedure can be derived for it")


def _of_kind(device: str, called: str, kind: Kind) -> Iterator[Move]:
    acts = {step.act: step.words for step in kind.transitions if step.act is not None}
    joined = _joined(kind)
    apart = {act for orders in joined.values() for order in orders for act in order}
    for orders in joined.values():
        yield Move(
            device, tuple(orders), _together([acts[act] for act in orders[0]]).replace("{name}", called)
        )
    for act, words in acts.items():
        if act not in apart:
            yield Move(device, ((act,),), words.replace("{name}", called))


def _together(words: Sequence[str]) -> str:
    """What the acts have in common before a colon, as "open the cover: channel a opens"; else one after the other."""
    common = {text.rpartition(":")[0] for text in words}
    return common.pop() if len(common) == 1 and "" not in common else ", then ".join(words)


def _joined(kind: Kind) -> dict[tuple[str, str], list[tuple[str, ...]]]:
    """Ways by acts from one state in which the channels agree to the next, over states in which they do not."""
    found: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for start in kind.states:
        if _agree(kind, start):
            for end, way in _ways(kind, start, (start,)):
                if len(way) > 1 and end != start:
                    found.setdefault((start, end), []).append(way)
    return found


def _ways(kind: Kind, state: str, met: tuple[str, ...]) -> Iterator[tuple[str, tuple[str, ...]]]:
    for step in kind.transitions:
        if step.act is None or state not in step.source or step.to in met:
            continue
        if _agree(kind, step.to):
            yield step.to, (step.act,)
        else:
            yield from ((end, (step.act, *way)) for end, way in _ways(kind, step.to, (*met, step.to)))


def _agree(kind: Kind, state: str) -> bool:
    return len({evaluate(kind.outputs[channel], state.__eq__) for channel in kind.channels}) < 2
