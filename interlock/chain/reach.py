"""Every state that a chain can reach, breadth first, kept without edges and with a bound on memory.

Where a chain has many inputs (doors, buttons), the states are bits: one for each combination of inputs, in a row
for each setting of the other devices; an event moves whole rows of them at once. Else they are packed words.
`interlock.chain.explore` keeps the edges too, which properties need, for benches of moderate size.
"""

from collections.abc import Container, Iterator
from dataclasses import dataclass, field
from typing import Final, Protocol, assert_never

import numpy as np

from interlock.chain import ir, reference
from interlock.chain.arrays import present
from interlock.chain.bitsets import count, members
from interlock.chain.classes_table import Edge, Table
from interlock.chain.frontier import Frontier
from interlock.chain.inputs import choose_inputs
from interlock.chain.layout import Layout, Words
from interlock.chain.stepping import fire, settle

__all__ = ["MOST_BYTES", "Reached", "reach", "reach_soon"]

MOST_BYTES: Final = 1 << 30
_WORTH: Final = 8  # combinations of inputs for each example that is stepped, below which words are quicker
_BLOCK: Final = 1 << 16
_A_WORD: Final = 64  # bytes that a state takes while packed words are searched, at the most


class Reached(Protocol):
    """The states met, and why the search ended before all were; empty if all were met."""

    @property
    def states(self) -> int:
        """How many states were met."""

    @property
    def shortfall(self) -> str:
        """What was not enough."""

    def each(self) -> Iterator[reference.State]:
        """Every state met, by names."""

    def shows(self, term: ir.Term) -> bool:
        """Whether a term about the present holds in any state met."""


def reach(chain: ir.Chain, *, most_bytes: int = MOST_BYTES, by_bits: bool | None = None) -> Reached:
    """Everything that can be reached, as far as the memory goes; raises WiringLoop if some event never comes to rest.

    `by_bits` says how states are kept (None: as it is quicker); what is found is the same.
    """
    table = Table(chain, choose_inputs(chain))
    if by_bits is None:
        by_bits = _by_bits(table)
    if not by_bits:
        return _by_words(chain, most_bytes)
    return _Search(table, most_bytes).run(*table.place(reference.start(chain)))


def reach_soon(chain: ir.Chain, *, most_bytes: int = MOST_BYTES) -> Reached | None:
    """The same where it takes seconds even of millions of states; None elsewhere."""
    table = Table(chain, choose_inputs(chain))
    return reach(chain, most_bytes=most_bytes, by_bits=True) if _by_bits(table) else None


def _by_bits(table: Table) -> bool:
    return 1 << table.inputs.bits >= _WORTH * max(1 << 9, table.examples)


def _too_much(most_bytes: int) -> str:
    return f"the search takes more than {most_bytes / (1 << 20):,.4g} MiB of memory"


@dataclass(frozen=True, slots=True)
class _ByWords:
    layout: Layout
    words: Words
    shortfall: str

    @property
    def states(self) -> int:
        return len(self.words)

    def each(self) -> Iterator[reference.State]:
        yield from map(self.layout.unpack, self.layout.numbers(self.words))

    def shows(self, term: ir.Term) -> bool:
        blocks = (self.words[at : at + _BLOCK] for at in range(0, len(self.words), _BLOCK))
        return any(bool(present(self.layout, block)(term).any()) for block in blocks)


def _by_words(chain: ir.Chain, most_bytes: int) -> Reached:
    layout, events = Layout(chain.fields), list(enumerate(chain.events))
    most = most_bytes // (_A_WORD * layout.columns)
    frontier = Frontier(layout.words([layout.pack(reference.start(chain))]), most, edges=False)
    for _, words in frontier:
        row, event, raw = fire(events, layout, words)
        frontier.add(row, event, settle(chain, layout, raw))
    words = frontier.words()
    return _ByWords(layout, words, "" if frontier.expanded == len(words) else _too_much(most_bytes))


@dataclass(slots=True)
class _ByBits:
    table: Table
    met: dict[int, Words] = field(default_factory=dict)  # of each setting the combinations of inputs
    states: int = 0
    shortfall: str = ""

    def each(self) -> Iterator[reference.State]:
        for setting, bits in self.met.items():
            for one in members(bits).tolist():
                yield self.table.state(setting, one)

    def shows(self, term: ir.Term) -> bool:
        inputs = self.table.inputs
        names, known = {field.name for field in inputs.fields}, dict[ir.Term, Words]()
        for setting, bits in self.met.items():
            rest = _given(term, self.table.state(setting, 0), names)
            if rest not in known:
                known[rest] = inputs.where(rest)
            if (bits & known[rest]).any():
                return True
        return False


def _given(term: ir.Term, state: reference.State, free: Container[str]) -> ir.Term:
    """What is left of a term about the present when all but the free fields are as in the state."""
    match term:
        case ir.Now(field, values):
            return term if field in free else ir.Const(state[field] in values)
        case ir.Const():
            return term
        case ir.No(part):
            return ir.no(_given(part, state, free))
        case ir.All(parts):
            return ir.all_of(_given(part, state, free) for part in parts)
        case ir.Any(parts):
            return ir.any_of(_given(part, state, free) for part in parts)
        case ir.Was() | ir.By():
            raise TypeError(f"{term} speaks of more than the present")
        case _:
            assert_never(term)


class _Search:
    def __init__(self, table: Table, most_bytes: int) -> None:
        self._table, self._most_bytes = table, most_bytes
        self._width = max(1, 1 << table.inputs.bits >> 6)
        self._scratch = np.empty(self._width, np.uint64)
        self._edges: dict[int, list[Edge]] = {}
        self._found = _ByBits(table)

    def run(self, setting: int, low: int) -> _ByBits:
        """Level by level from one state on."""
        first = self._row()
        first[low >> 6] = np.uint64(1 << (low & 63))
        fresh = self._news({setting: first})
        while fresh:
            if self._taken() > self._most_bytes:
                self._found.shortfall = _too_much(self._most_bytes)
                break
            fresh = self._news(self._after(fresh))
        return self._found

    def _row(self) -> Words:
        return np.zeros(self._width, np.uint64)

    def _after(self, level: dict[int, Words]) -> dict[int, Words]:
        """What the states of a level lead to."""
        self._learn([one for one in level if one not in self._edges])
        after: dict[int, Words] = {}
        for setting, bits in level.items():
            for edge in self._edges[setting]:
                if edge.restless:
                    self._refuse(edge, bits)
                    continue
                if edge.target not in after:
                    after[edge.target] = self._row()
                edge.shift.apply(bits, edge.mask, after[edge.target], self._scratch)
        return after

    def _refuse(self, edge: Edge, bits: Words) -> None:
        """Raise WiringLoop if the edge is taken."""
        edge.shift.apply(bits, edge.mask, into := self._row(), self._scratch)
        for one in members(into)[:1].tolist():
            reference.settle(self._table.chain, self._table.state(edge.target, one))
            raise RuntimeError("a state that goes round for ever came to rest")

    def _learn(self, settings: list[int]) -> None:
        self._edges |= {one: [] for one in settings}
        for edge in self._table.edges(settings):
            self._edges[edge.source].append(edge)

    def _news(self, level: dict[int, Words]) -> dict[int, Words]:
        """What of the level was not met before; it now is."""
        fresh, met = {}, self._found.met
        for setting, bits in level.items():
            known = met.get(setting)
            if known is not None:
                np.bitwise_and(bits, np.bitwise_not(known, out=self._scratch), out=bits)
            if not bits.any():
                continue
            met[setting] = bits.copy() if known is None else np.bitwise_or(known, bits, out=known)
            fresh[setting] = bits
        self._found.states += sum(map(count, fresh.values()))
        return fresh

    def _taken(self) -> int:
        """At most three rows for each setting: met, new, and what follows."""
        return 3 * len(self._found.met) * self._width * 8 + self._table.bytes
