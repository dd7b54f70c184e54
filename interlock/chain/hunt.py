"""The search for losses under faults: for each fault set and each loss or misstep the nearest place that shows it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from interlock.chain import ir
from interlock.chain.again import Notes
from interlock.chain.again_timed import Lateness
from interlock.chain.bent_steps import Ways
from interlock.chain.by_times import by_times
from interlock.chain.ending import ended_in_time
from interlock.chain.fault_sets import Bits
from interlock.chain.ground import Ground
from interlock.chain.layout import Words
from interlock.chain.losses import Loss
from interlock.chain.missteps import Misstep
from interlock.chain.outcomes import Truth
from interlock.chain.sight import NOBODY, Sight
from interlock.chain.spread import Kept, Level, Made, Spread
from interlock.chain.trail import Goal, Stage

__all__ = ["MOST_BYTES", "Found", "Ground", "Hunt", "spread_all"]

MOST_BYTES: Final = 1 << 31
_CHUNK: Final = 256


@dataclass(frozen=True, slots=True)
class Found:
    """What was first seen under a set: a state, and what happens from it on until it shows."""

    goal: Goal
    number: int  # of what was sought: first the losses, then the missteps
    then: tuple[Stage, ...] = ()
    brief: bool = False  # it is there for a moment only, as far as this way shows: not seen by anybody
    part: int = 0  # of the bench, in which it was found
    under: int = (
        0  # the set of the whole bench under which it is there; told where the bench was searched in parts
    )

    @property
    def steps(self) -> int:
        """From power-up on."""
        return self.goal.level + len(self.then)

    def of_part(self, part: int, under: int) -> "Found":
        """The same, found in a part of the bench."""
        return Found(self.goal, self.number, self.then, self.brief, part, under)


class Hunt:
    """Goes through a spread and notes, set by set, the first state of each loss and the first of each misstep."""

    def __init__(self, ground: Ground, losses: Sequence[Loss], missteps: Sequence[Misstep]) -> None:
        self.ground, self.losses, self.missteps = ground, losses, missteps
        self.lost: list[dict[int, Found]] = [{} for _ in losses]
        self.made: list[dict[int, Found]] = [{} for _ in missteps]
        self._truths = [ground.truth(loss.term) for loss in losses]
        self._done = np.zeros((len(losses) + len(missteps), ground.sets.width), np.uint64)
        self._level, self.notes = -1, Notes(ground, losses)
        self._single = ground.sets.pack(np.array([[len(one) < 2 for one in ground.sets.sets]]))[0]
        self._tried: list[set[tuple[int, int, int]]] = [set() for _ in missteps]

    def sought(self, found: Found) -> Loss | Misstep:
        """What was found."""
        at = found.number - len(self.losses)
        return self.losses[found.number] if at < 0 else self.missteps[at]

    def each(self) -> Iterator[tuple[Loss | Misstep, dict[int, Found]]]:
        """Whatever was sought, and where it was found first, by the set's number."""
        yield from zip(self.losses, self.lost, strict=True)
        yield from zip(self.missteps, self.made, strict=True)

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
                if (bad.bits & ~self._done[number]).any():
                    self.notes.ends_in_time(number)
        self.notes.next_level(level)
        return True

    def saw(self, block: Kept, made: Made) -> None:
        """Which missteps these moves from the level last looked at show."""
        ways = made.ways
        self.notes.saw(block, ways)
        sight = Sight(self.ground.glass, ways.words, block.words[ways.row], ways.event)
        for number, misstep in enumerate(self.missteps):
            at = len(self.losses) + number
            truth = sight.truth(misstep.event if misstep.begins is None else misstep.begins)
            if truth.shape[0] == 1:
                truth = np.broadcast_to(truth, (len(ways.row), truth.shape[1]))
            rows = np.flatnonzero(truth.any(axis=1))
            hits = made.bits(rows) & truth[rows] & ~self._done[at]
            if misstep.begins is not None:
                self._follow(number, misstep, block, ways.at(rows), hits)
                continue
            for one, hit in self._new(at, hits):
                move = int(rows[hit])
                row, event = int(ways.row[move]), int(ways.event[move])
                word = self._number(ways.words, move)
                before = one if event != NOBODY else self._smaller(one, block.at(np.array([row])).bits[0])
                goal = Goal(self._level, self._number(block.words, row), before)
                self.made[number][one] = Found(goal, at, (Stage(event, word, one),), not misstep.starts)

    def _follow(self, number: int, misstep: Misstep, block: Kept, begun: Ways, hits: Bits) -> None:
        """What comes of these ways by the stated times, under the sets of at most one fault; larger are not told.

        Where the torque would go too had nobody demanded the stop, the fault has stopped the unit by itself.
        """
        sets, at = self.ground.sets, len(self.losses) + number
        some = np.flatnonzero((hits & self._single).any(axis=1) & (begun.event != NOBODY))
        begun, held = begun.at(some), sets.unpack(hits[some] & self._single)
        layout, before, pairs = self.ground.layout, block.words[begun.row], list[tuple[int, int]]()
        words, was = layout.numbers(begun.words), layout.numbers(before)
        for move, one in zip(*(part.tolist() for part in np.nonzero(held)), strict=True):
            if (key := (was[move], words[move], one)) not in self._tried[number]:
                self._tried[number].add(key)
                pairs.append((move, one))
        ends = by_times(self.ground, begun.words, pairs, misstep.event, misstep.device)
        cut = [(*pair, then) for pair, then in zip(pairs, ends, strict=True) if then is not None]
        goes = ir.falls(self.ground.faulty.truth.torque(misstep.device))
        alone = by_times(self.ground, before, [(move, one) for move, one, _ in cut], goes, misstep.device)
        for (move, one, then), anyhow in zip(cut, alone, strict=True):
            if anyhow is None and one not in self.made[number]:
                stage = Stage(int(begun.event[move]), words[move], one)
                self.made[number][one] = Found(
                    Goal(self._level, was[move], one), at, (stage, *then), brief=True
                )
                self._done[at, one >> 6] |= np.uint64(1 << (one & 63))

    def come_again(self, spread: Spread) -> None:
        """Of the sets under which a loss does not last: those under which it comes too late after its demand."""
        sets = {at: self.notes.noted[at] & ~self._done[at] for at in range(len(self.losses))}
        sets = {at: bits for at, bits in sets.items() if bits.any()}
        if sets:
            lateness = Lateness(self.ground, spread, np.bitwise_or.reduce(list(sets.values())))
            for at, bits in sets.items():
                found = lateness.of(self.losses[at], bits)
                self.lost[at] |= {one.set: Found(one.goal, at, one.then, brief=True) for one in found}

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
    hunt.come_again(spread)
