"""Does a loss under faults come later after its demand than allowed, though late reactions end it each time?

Timed as `interlock.chain.clock` does, for those fault sets alone under which the search has noted moves that may
matter (`interlock.chain.again`). A fault that arrives lets the time count anew.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.again import due_within
from interlock.chain.arrays import Truths
from interlock.chain.bent_steps import Moves
from interlock.chain.clock import NEVER, Delayed, Overdue, overdue
from interlock.chain.fault_sets import Bits
from interlock.chain.ground import Ground
from interlock.chain.layout import Words, keys
from interlock.chain.losses import Loss
from interlock.chain.sight import NOBODY, Sight
from interlock.chain.spread import Level, OutOfRoom, Spread
from interlock.chain.stepping import Numbers
from interlock.chain.trail import Goal, Stage

__all__ = ["Late", "Lateness"]

_MOST_BYTES: Final = 1 << 29
_MOST_PAIRS: Final = 1 << 23
_UNPACKED: Final = 1 << 24  # truths at a time


@dataclass(frozen=True, slots=True)
class Late:
    """A loss that is there too late under the set of this number: a state, and what follows it until then."""

    set: int
    goal: Goal
    then: tuple[Stage, ...]


class Lateness:
    """Every state that a spread has met, with the moves between them under some of the sets."""

    def __init__(self, ground: Ground, spread: Spread, sets: Bits) -> None:
        self._ground, self._spread, self._sets = ground, spread, sets
        self._met = spread.met
        self._order = np.argsort(keys(self._met.words), kind="stable")
        self._sorted = keys(self._met.words)[self._order]

    def of(self, loss: Loss, sets: Bits) -> Iterator[Late]:
        """The nearest way to it, for each of the sets under which the loss comes too late."""
        demand = _Demand(self, loss, sets)
        if not len(demand.row):
            return
        late = overdue(demand.delayed, loss.within_ns or 0)
        if not late.whole:
            raise OutOfRoom("the time since a demand takes too many different values")
        for node in late.first_of_each(demand.holds(demand.bad), demand.number):
            yield demand.late(late, node)

    @property
    def words(self) -> Words:
        """The states by their rows."""
        return self._met.words

    @property
    def bits(self) -> Bits:
        """The sets under which each of them is met."""
        return self._met.bits

    @property
    def ground(self) -> Ground:
        """What is searched."""
        return self._ground

    def rows(self, words: Words) -> Numbers:
        """The rows of states that were met."""
        return self._order[np.searchsorted(self._sorted, keys(words))]

    @cached_property
    def moves(self) -> Moves:
        """All that can happen; `row` counts the states met, and `bits` knows these sets alone."""
        parts, at, taken = [Moves(*_nothing(self.words), self._sets[None, :][:0])], 0, 0
        for block in Level(self._met.words, self._met.bits).blocks():
            found = self._spread.moves(block)
            bits = found.bits & self._sets
            kept = bits.any(axis=1)
            parts.append(Moves(found.row[kept] + at, found.event[kept], found.words[kept], bits[kept]))
            at, taken = at + len(block.words), taken + parts[-1].bits.nbytes
            if taken > _MOST_BYTES:
                raise OutOfRoom(f"the time since a demand takes more than {_MOST_BYTES >> 20} MiB of memory")
        return Moves(
            np.concatenate([one.row for one in parts]),
            np.concatenate([one.event for one in parts]),
            np.concatenate([one.words for one in parts]),
            np.concatenate([one.bits for one in parts]),
        )

    @cached_property
    def targets(self) -> Numbers:
        """The row of the state that each move leads to."""
        return self.rows(self.moves.words)

    def steps(self, row: Numbers, number: Numbers, most: int | None = None) -> Numbers:
        """After how many steps each state is met first under its set; -1: not within the first `most` levels."""
        found = np.full(len(row), -1, np.int64)
        for at, level in enumerate(self._spread.levels[:most]):
            place = np.full(len(self.words), -1, np.int64)
            place[self.rows(level.words)] = np.arange(len(level.words))
            here = np.flatnonzero((found < 0) & (place[row] >= 0))
            held = _has(level.bits[place[row[here]]], number[here])
            found[here[held]] = at
        return found


class _Demand:
    """The demand of a loss: its states from which it may come to the loss, one node for each of their sets."""

    def __init__(self, all_: Lateness, loss: Loss, sets: Bits) -> None:
        self._all, self._loss, self._moves = all_, loss, all_.moves
        during = self._where(ir.TRUE if loss.during is None else loss.during) & sets
        self.bad = self._where(loss.term) & during
        anew = self._moves.event == NOBODY
        if loss.begins != ir.FALSE:
            was = all_.words[self._moves.row]
            sight = Sight(all_.ground.glass, self._moves.words, was, self._moves.event)
            anew |= sight.rows(loss.begins)
        within = self._moves.bits & during[all_.targets]
        inside: Bits = within & during[self._moves.row]
        inside[anew] = 0
        self._leading = self._backwards(inside)
        self.row, self.number = self._pairs(self._leading)
        self._node = self.row * self._many + self.number  # ascending
        self._edge, source = self._inside(inside)
        self._delayed(source, within & ~inside)

    @property
    def _many(self) -> int:
        return len(self._all.ground.sets.sets)

    def holds(self, bits: Bits) -> Truths:
        """For each node whether its state has its set."""
        return _has(bits[self.row], self.number)

    def late(self, late: Overdue, node: int) -> Late:
        """The way to a node, told from the last state before the demand."""
        entry, edges = late.way(node)
        number = int(self.number[node])
        then = [self._stage(int(self._edge[one]), number) for one in edges]
        if (move := int(self._entry_move[entry])) >= 0:
            then.insert(0, self._stage(move, number))
        row, before = int(self._before[entry, 0]), int(self._before[entry, 1])
        word = self._all.ground.layout.numbers(self._all.words[row : row + 1])[0]
        level = int(self.delayed.steps[entry]) - (1 if move >= 0 else 0)
        return Late(number, Goal(level, word, before), tuple(then))

    def _stage(self, move: int, number: int) -> Stage:
        word = self._all.ground.layout.numbers(self._moves.words[move : move + 1])[0]
        return Stage(int(self._moves.event[move]), word, number)

    def _where(self, term: ir.Term) -> Bits:
        ground = self._all.ground
        masks = ground.truth(term).of(self._all.words)
        return self._all.bits & ground.masks.bits[masks]

    def _backwards(self, inside: Bits) -> Bits:
        """Of each state the sets under which moves within the demand lead from it to the loss."""
        some = np.flatnonzero(inside.any(axis=1))
        source, target, bits = self._moves.row[some], self._all.targets[some], inside[some]
        found = self.bad.copy()
        while True:
            grown = found.copy()
            np.bitwise_or.at(grown, source, bits & found[target])
            if (grown == found).all():
                return found
            found = grown

    def _pairs(self, bits: Bits) -> tuple[Numbers, Numbers]:
        """Row and set of each bit, in ascending order."""
        sets = self._all.ground.sets
        if (many := sets.count(bits)) > _MOST_PAIRS:
            raise OutOfRoom(f"the time since a demand takes {many:,} situations, more than {_MOST_PAIRS:,}")
        rows, step = np.flatnonzero(bits.any(axis=1)), max(1, _UNPACKED // len(sets.sets))
        parts = [(np.empty(0, np.int64), np.empty(0, np.int64))]
        for at in range(0, len(rows), step):
            some = rows[at : at + step]
            row, number = np.nonzero(sets.unpack(bits[some]))
            parts.append((some[row], number))
        row, number = (np.concatenate(part) for part in zip(*parts, strict=True))
        return row, number

    def _inside(self, inside: Bits) -> tuple[Numbers, Numbers]:
        """The move of each edge, and the node that it starts from, in ascending order of these."""
        both = inside & self._leading[self._moves.row] & self._leading[self._all.targets]
        move, number = self._pairs(both)
        source = np.searchsorted(self._node, self._moves.row[move] * self._many + number)
        order = np.argsort(source, kind="stable")
        self._edge_number = number[order]
        return move[order], source[order]

    def _delayed(self, source: Numbers, enters: Bits) -> None:
        """The graph of the demand, with the ways into it."""
        all_, events = self._all, self._moves.event[self._edge]
        due = due_within(all_.ground, self._loss.within_ns or 0)
        which = np.full(len(events), -1, np.int64)
        columns = [np.zeros((len(self.row), 0), np.bool_)]
        for at, one in enumerate(due):
            which[events == one.event] = at
            masks = one.when.of(all_.words[self.row])
            columns.append(_has(all_.ground.masks.bits[masks], self.number)[:, None])
        target = all_.targets[self._edge] * self._many + self._edge_number
        entry, steps = self._entries(enters)
        self.delayed = Delayed(
            source,
            np.searchsorted(self._node, target),
            which,
            np.concatenate(columns, axis=1),
            np.array([one.delay_ns for one in due], np.int64),
            entry,
            steps,
        )

    def _entries(self, enters: Bits) -> tuple[Numbers, Numbers]:
        """The nodes that are entered from outside, from power-up first, and after how many steps at the soonest."""
        begun = np.flatnonzero(self._all.steps(self.row, self.number, 1) == 0)
        move, number = self._pairs(enters & self._leading[self._all.targets])
        source = self._moves.row[move]
        before, arrived = number.copy(), np.flatnonzero(self._moves.event[move] == NOBODY)
        before[arrived] = self._smaller(source[arrived], number[arrived])
        self._entry_move = np.concatenate([np.full(len(begun), -1, np.int64), move])
        told = np.column_stack([source, before])
        self._before = np.concatenate([np.column_stack([self.row[begun], self.number[begun]]), told])
        target = self._all.targets[move] * self._many + number
        entry = np.concatenate([begun, np.searchsorted(self._node, target)])
        steps = np.concatenate([np.zeros(len(begun), np.int64), self._all.steps(source, before) + 1])
        return entry, steps

    def _smaller(self, row: Numbers, number: Numbers) -> Numbers:
        """For each state the set under which it is met first and from which one arrival leads to this one."""
        sets, back = np.unique(number, return_inverse=True)
        within = [self._all.ground.sets.within(one) for one in sets.tolist()]
        found, least = np.full(len(row), -1, np.int64), np.full(len(row), NEVER)
        for at in range(max(map(len, within), default=0)):
            one = np.array([smaller[at] if at < len(smaller) else -1 for smaller in within])[back]
            rest = np.flatnonzero(one >= 0)
            rest = rest[_has(self._all.bits[row[rest]], one[rest])]
            steps = self._all.steps(row[rest], one[rest])
            sooner = steps < least[rest]
            found[rest[sooner]], least[rest[sooner]] = one[rest[sooner]], steps[sooner]
        return found


def _nothing(words: Words) -> tuple[Numbers, Numbers, Words]:
    return np.empty(0, np.int64), np.empty(0, np.int64), words[:0]


def _has(bits: Bits, number: Numbers) -> Truths:
    """Row by row whether the bits have the set of the number."""
    rows = np.arange(len(number))
    found: Truths = (bits[rows, number >> 6] >> (number & 63).astype(np.uint64)) & np.uint64(1) != 0
    return found
