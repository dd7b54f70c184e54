"""Breadth-first search under many fault sets at once: which states are met under which sets, and how soon."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.bent_steps import Moves, Steps, Ways, joined
from interlock.chain.fault_sets import Bits
from interlock.chain.growing import Growing
from interlock.chain.layout import Words
from interlock.chain.masks import ALL, NONE, Held
from interlock.chain.seen import Seen
from interlock.chain.stepping import Numbers
from interlock.chain.watching import tell

__all__ = ["Kept", "Level", "Made", "OutOfRoom", "Spread"]

_BLOCK: Final = 1 << 12  # states that are moved at a time
_MOST_WORK: Final = 1 << 28  # words of bits of states that are moved, in all searches over the same steps
_A_STATE: Final = 40  # words that cost as much as what is done once for each state
_BITS: Final = 1 << 17  # words of bits that are moved at a time, where bits are asked for
_MIXED: Final = -1  # no mask of a number yet
_CODE: Final = 63  # bits in which the numbers of three masks must fit


class OutOfRoom(Exception):
    """The search needs more memory or more work than it may take."""


@dataclass(frozen=True, slots=True)
class Level:
    """States, and of each the sets under which it was not met in an earlier level."""

    words: Words
    bits: Bits

    def blocks(self) -> Iterator["Level"]:
        """The level in parts that can be moved at once."""
        rows = max(256, _BITS // self.bits.shape[1])
        for at in range(0, len(self.words), rows):
            yield Level(self.words[at : at + rows], self.bits[at : at + rows])


@dataclass(frozen=True, slots=True)
class Kept:
    """A level whose sets are masks known by their numbers."""

    store: Held
    words: Words
    masks: Numbers

    @property
    def bits(self) -> Bits:
        """The sets of each state."""
        return self.store.bits[self.masks]

    @property
    def level(self) -> Level:
        """The same without the store."""
        return Level(self.words, self.bits)

    def at(self, rows: slice | Numbers) -> "Kept":
        """Some of its states."""
        return Kept(self.store, self.words[rows], self.masks[rows])


@dataclass(frozen=True, slots=True)
class Made:
    """Ways on from the states of a part of a level, seen without their sets' bits until these are asked for."""

    store: Held
    ways: Ways

    def bits(self, rows: Numbers) -> Bits:
        """The sets of some of the ways."""
        return self.store.under(self.ways.held[rows], self.ways.mask[rows])


class Spread:
    """Levels of states from a beginning on, by some events; with `arriving`, faults may arrive at any moment."""

    def __init__(self, steps: Steps, events: frozenset[int], *, arriving: bool, most_bytes: int) -> None:
        self.steps, self.arriving, self._events, self._most_bytes = steps, arriving, events, most_bytes
        self.levels: list[Kept] = []
        self._held, self._masks = steps.held, steps.masks
        self._seen, self._words = Seen(), Growing(steps.glass.layout.words([]))
        self._met = Growing(np.empty(0, np.int64))  # the mask of each state, by its number

    @property
    def met(self) -> Level:
        """Every state met, with all the sets under which it was."""
        return Kept(self._held, self._words.rows, self._met.rows).level

    def run(
        self,
        words: Words,
        bits: Bits,
        look: Callable[[Kept], bool],
        saw: Callable[[Kept, Made], None] | None = None,
    ) -> None:
        """Level by level; `look` sees each level and ends it all by False, `saw` its moves, part by part.

        Raises OutOfRoom if what was met takes more than `most_bytes`, or if too much is done over the same steps.
        """
        held = self._held.numbers(bits)
        fresh = self._merged([self._new(words, held, np.full_like(held, ALL))])
        while len(fresh.words):
            self.levels.append(fresh)
            self._work(len(fresh.words))
            self.steps.know(fresh.words, fresh.masks, arriving=self.arriving)
            if not look(fresh):
                return
            blocks = (fresh.at(slice(at, at + _BLOCK)) for at in range(0, len(fresh.words), _BLOCK))
            fresh = self._merged([self._after(block, saw) for block in blocks])

    def _after(self, block: Kept, saw: Callable[[Kept, Made], None] | None) -> "_Fresh":
        ways = self._ways(block)
        if saw is not None:
            saw(block, Made(self._held, ways))
        return self._new(ways.words, ways.held, ways.mask)

    def moves(self, level: Level) -> Moves:
        """Everything that can happen in the states of a level, under its sets."""
        return self.steps.moves(self._ways(Kept(self._held, level.words, self._held.numbers(level.bits))))

    def _ways(self, level: Kept) -> Ways:
        fired = self.steps.fired(level.words, level.masks, self._events)
        return joined([fired, self.steps.arrived(level.words, level.masks)]) if self.arriving else fired

    def _new(self, words: Words, held: Numbers, mask: Numbers) -> "_Fresh":
        """What was not met before, each state once."""
        states = self._seen.find(words)
        met = np.concatenate([self._met.rows, [NONE]])  # the last one is of states that are not known, -1
        sets, which = self._once(held, mask, met[states])
        store, alive, parts = self._held, np.zeros(len(sets[0]), np.bool_), []
        step = max(1, _BITS // self.steps.glass.sets.width)
        for at in range(0, len(alive), step):
            one, other, known = (part[at : at + step] for part in sets)
            bits = store.under(one, other)
            bits &= ~store.bits[known]
            alive[at : at + step] = kept = bits.any(axis=1)
            parts.append(bits[kept])
        unmet = np.flatnonzero(alive[which] & (states < 0))
        states[unmet], fresh = self._seen.add(words[unmet])
        self._words.add(fresh)
        self._met.add(np.full(len(fresh), NONE))
        self._make_room()
        whole = np.where((sets[1] == ALL) & (sets[2] == NONE), sets[0], _MIXED)[alive]
        return self._gathered(states, np.cumsum(alive) - 1, alive, which, parts, whole)

    def _gathered(
        self,
        states: Numbers,
        place: Numbers,
        alive: Truths,
        which: Numbers,
        parts: list[Bits],
        whole: Numbers,
    ) -> "_Fresh":
        """Each state once, with all its sets that are new."""
        some = np.flatnonzero(alive[which])
        if not some.size:
            return _Fresh(states[:0], states[:0])
        bits = np.concatenate(parts)
        pairs = np.unique(states[some] * len(bits) + place[which[some]])
        state, row = np.divmod(pairs, len(bits))
        first = np.flatnonzero(np.diff(state, prepend=-1))
        masks = self._joined(bits, whole, row, first, np.diff(first, append=len(row)))
        found = state[first]
        self._met.rows[found] = self._held.either(self._met.rows[found], masks)
        return _Fresh(found, masks)

    def _joined(self, bits: Bits, whole: Numbers, row: Numbers, first: Numbers, count: Numbers) -> Numbers:
        """The masks of so many rows together from each `first` on."""
        masks = np.empty(len(first), np.int64)
        alone, several = np.flatnonzero(count == 1), np.flatnonzero(count > 1)
        used, back = np.unique(row[first[alone]], return_inverse=True)
        known = whole[used]
        mixed = np.flatnonzero(known == _MIXED)
        known[mixed] = self._held.numbers(bits[used[mixed]])
        masks[alone] = known[back]
        step = max(1, _BITS // (4 * self.steps.glass.sets.width))
        for at in range(0, len(several), step):
            some = several[at : at + step]
            found = bits[row[first[some]]]
            for turn in range(1, int(count[some].max())):
                more = np.flatnonzero(count[some] > turn)
                found[more] |= bits[row[first[some[more]] + turn]]
            masks[some] = self._held.numbers(found)
        return masks

    def _merged(self, parts: list["_Fresh"]) -> Kept:
        """One level of what several parts of the one before it have newly met."""
        states = np.concatenate([one.states for one in parts])
        masks = np.concatenate([one.masks for one in parts])
        order = np.argsort(states, kind="stable")
        states, masks = states[order], masks[order]
        first = np.flatnonzero(np.diff(states, prepend=-1))
        count = np.diff(first, append=len(states))
        found = masks[first]
        for turn in range(1, int(count.max(initial=0))):
            more = np.flatnonzero(count > turn)
            found[more] = self._held.either(found[more], masks[first[more] + turn])
        return Kept(self._held, self._words.rows[states[first]], found)

    def _once(self, *columns: Numbers) -> tuple[list[Numbers], Numbers]:
        """The different rows of some columns of masks, as columns; and which of them each row is."""
        width = max(len(self._held), len(self._masks)).bit_length()
        if len(columns) * width > _CODE:
            raise OutOfRoom(f"the search meets more than {len(self._held):,} different sets of fault sets")
        code = np.zeros(len(columns[0]), np.int64)
        for column in columns:
            code = code << width | column
        codes, back = np.unique(code, return_inverse=True)
        shifts = range(width * (len(columns) - 1), -1, -width)
        return [codes >> shift & (1 << width) - 1 for shift in shifts], back

    def _work(self, states: int) -> None:
        each = _A_STATE + self.steps.glass.sets.width
        self.steps.work += states * each
        tell("the bench under faults", len(self._words))
        if self.steps.work > _MOST_WORK:
            many = f"{_MOST_WORK // each:,} states, each with the sets of faults under which it is newly met"
            raise OutOfRoom(f"the search is given up beyond {many}")

    @property
    def taken(self) -> int:
        """The bytes that all of it takes."""
        return self._held.nbytes + self._words.nbytes + self._met.nbytes + self.steps.nbytes

    def _make_room(self) -> None:
        if self.taken > self._most_bytes:
            raise OutOfRoom(f"the search takes more than {self._most_bytes >> 20} MiB of memory")


@dataclass(frozen=True, slots=True)
class _Fresh:
    """States by their numbers, ascending, and of each the mask under which it is new."""

    states: Numbers
    masks: Numbers
