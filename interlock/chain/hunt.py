"""The search for losses under faults: for each fault set and each loss the nearest state that shows it, and the way."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.bent import Faulty
from interlock.chain.bent_steps import Steps
from interlock.chain.ending import ended_in_time
from interlock.chain.fault_sets import Bits, FaultSets
from interlock.chain.kept_steps import KeptSteps
from interlock.chain.layout import Layout, Words
from interlock.chain.losses import Loss, Restart
from interlock.chain.masks import NONE, Masks
from interlock.chain.outcomes import Truth
from interlock.chain.sight import NOBODY, Glass, Sight
from interlock.chain.spread import Kept, Level, Made, Spread
from interlock.chain.stepping import Numbers
from interlock.chain.trail import Goal, Stage

__all__ = ["MOST_BYTES", "Found", "Ground", "Hunt", "spread_all"]

MOST_BYTES: Final = 1 << 31
_CHUNK: Final = 256
_FEW_SETS: Final = 256  # up to which steps are kept


class Ground:
    """A bench with faults, ready to be searched under given fault sets."""

    def __init__(self, faulty: Faulty, sets: FaultSets, observers: tuple[ir.Observer, ...]) -> None:
        self.faulty, self.sets = faulty, sets
        fields = {one.field: one.id for one in faulty.faults}
        devices = [field for field in faulty.chain.fields if field.name not in fields]
        memory = [observer.field for observer in observers]
        self.layout = Layout([*devices, *memory])
        self.glass, self.masks = Glass(self.layout, sets, fields), Masks(sets)
        steps = KeptSteps if len(sets.sets) <= _FEW_SETS else Steps
        self.steps = steps(self.glass, self.masks, faulty.chain, observers)
        self.start = self.layout.pack({field.name: field.start for field in [*devices, *memory]})
        self.events = frozenset(range(len(faulty.chain.events)))

    def begin(self) -> tuple[Words, Bits]:
        """The states at power-up, under every set."""
        moves = self.steps.begin(self.start)
        return moves.words, moves.bits

    def truth(self, term: ir.Term) -> Truth:
        """A term about the present, ready to be asked of states."""
        return Truth(self.glass, self.masks, term)

    def where(self, truth: Truth, level: Level | Kept) -> Bits:
        """Of a level's sets those under which the term holds."""
        masks = truth.of(level.words)  # may add masks
        return level.bits & self.masks.bits[masks]

    def some(self, truth: Truth, level: Kept) -> tuple[Numbers, Bits]:
        """The rows of a level in which the term holds under some sets, and those of its sets."""
        masks = truth.of(level.words)
        rows = np.flatnonzero(masks != NONE)
        return rows, level.at(rows).bits & self.masks.bits[masks[rows]]

    def late(self, within_ns: int | None) -> frozenset[int]:
        """The late reactions that come within a time (None: all)."""
        return frozenset(
            number
            for number, event in enumerate(self.faulty.chain.events)
            if event.kind is ir.EventKind.LATE and (within_ns is None or event.delay_ns <= within_ns)
        )


@dataclass(frozen=True, slots=True)
class Found:
    """What was first seen under a set: the state that shows it, or the one before the event that does."""

    goal: Goal
    loss: int = -1  # the number of the loss, if it is one
    then: Stage | None = None  # else the event that shows it, and what it leads to


class Hunt:
    """Goes through a spread and notes, set by set, the first state of each loss and the first of each restart."""

    def __init__(self, ground: Ground, losses: Sequence[Loss], restarts: Sequence[Restart]) -> None:
        self.ground, self.losses, self.restarts = ground, losses, restarts
        self.lost: list[dict[int, Found]] = [{} for _ in losses]
        self.restarted: list[dict[int, Found]] = [{} for _ in restarts]
        self._truths = [ground.truth(loss.term) for loss in losses]
        self._done = np.zeros((len(losses) + len(restarts), ground.sets.width), np.uint64)
        self._level = -1

    def look(self, level: Kept) -> bool:
        """What this level shows that no earlier one did."""
        self._level += 1
        for number, truth in enumerate(self._truths):
            rows, hits = self.ground.some(truth, level)
            hits &= ~self._done[number]
            some = np.flatnonzero(hits.any(axis=1))
            if some.size:
                bad = Level(level.words[rows[some]], hits[some])
                lasting = self._lasting(self.losses[number], truth, bad)
                for one, row in self._new(number, lasting):
                    self.lost[number][one] = Found(
                        Goal(self._level, self._number(bad.words, row), one), number
                    )
        return True

    def saw(self, block: Kept, made: Made) -> None:
        """Which restarts these moves from the level last looked at show."""
        ways = made.ways
        sight = Sight(self.ground.glass, ways.words, block.words[ways.row], ways.event)
        for number, restart in enumerate(self.restarts):
            at = len(self.losses) + number
            truth = sight.truth(restart.event)
            if truth.shape[0] == 1:
                truth = np.broadcast_to(truth, (len(ways.row), truth.shape[1]))
            rows = np.flatnonzero(truth.any(axis=1))
            hits = made.bits(rows) & truth[rows] & ~self._done[at]
            for one, hit in self._new(at, hits):
                move = int(rows[hit])
                row, event = int(ways.row[move]), int(ways.event[move])
                word = self._number(ways.words, move)
                before = one if event != NOBODY else self._smaller(one, block.at(np.array([row])).bits[0])
                goal = Goal(self._level, self._number(block.words, row), before)
                self.restarted[number][one] = Found(goal, then=Stage(event, word, one))

    def _number(self, words: Words, row: int) -> int:
        return self.ground.layout.numbers(words[row : row + 1])[0]

    def _smaller(self, one: int, bits: Bits) -> int:
        """A set of the row that lacks one fault of this one."""
        held = self.ground.sets.unpack(bits[None, :])[0]
        return next(smaller for smaller in self.ground.sets.within(one) if held[smaller])

    def _new(self, number: int, hits: Bits) -> Iterator[tuple[int, int]]:
        """Each set that shows this for the first time, and the first row that has it."""
        rows = np.flatnonzero(hits.any(axis=1))
        for at in range(0, len(rows), _CHUNK):
            some = rows[at : at + _CHUNK]
            held = self.ground.sets.unpack(hits[some] & ~self._done[number])
            for one in np.flatnonzero(held.any(axis=0)).tolist():
                yield one, int(some[np.argmax(held[:, one])])
            self._done[number] |= np.bitwise_or.reduce(hits[some], axis=0)

    def _lasting(self, loss: Loss, truth: Truth, bad: Level) -> Bits:
        """The sets of each bad state under which no late reactions in time end the loss."""
        ground = self.ground
        late = {one: ground.faulty.chain.events[one].delay_ns for one in ground.late(loss.within_ns)}
        ended = ended_in_time(
            ground.steps, lambda level: ground.where(truth, level), bad, late, loss.within_ns
        )
        return bad.bits & ~ended


def spread_all(spread: Spread, hunt: Hunt) -> None:
    """Everything that the spread can reach from power-up under every set, seen by the hunt level by level."""
    spread.run(*hunt.ground.begin(), hunt.look, hunt.saw)
