"""The way back from a state met under a fault set to power-up, found level by level in the spread that met it."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.bent_steps import Moves
from interlock.chain.fault_sets import Bits, FaultSets
from interlock.chain.layout import Layout, keys, same
from interlock.chain.sight import NOBODY
from interlock.chain.spread import Level, Spread

__all__ = ["Goal", "Stage", "trails"]


@dataclass(frozen=True, slots=True)
class Goal:
    """A state that was first met in this level under the set of this number."""

    level: int
    word: int
    set: int


@dataclass(frozen=True, slots=True)
class Stage:
    """One step of a way: the event, the state after it, the number of the fault set from then on."""

    event: int  # NOBODY: a fault arrives, or power comes up
    word: int
    set: int


@dataclass(slots=True)
class _Back:
    """A goal on its way back: where it stands now, and the stages found so far, the last one first."""

    word: int
    set: int
    stages: list[Stage] = field(default_factory=list)


def trails(spread: Spread, goals: Iterable[Goal]) -> dict[Goal, tuple[Stage, ...]]:
    """A shortest way to each goal; its first stage is power-up."""
    wanted = set(goals)
    backs = {goal: _Back(goal.word, goal.set) for goal in wanted}
    for at in range(max((goal.level for goal in wanted), default=0), 0, -1):
        moving = [backs[goal] for goal in wanted if goal.level >= at]
        _step_back(spread, spread.levels[at - 1].level, moving)
    for back in backs.values():
        back.stages.append(Stage(NOBODY, back.word, back.set))
    return {goal: tuple(reversed(back.stages)) for goal, back in backs.items()}


def _step_back(spread: Spread, before: Level, backs: list[_Back]) -> None:
    sets = spread.steps.glass.sets
    useful = {smaller for back in backs for smaller in [back.set, *sets.within(back.set)]}
    bits = before.bits & _columns(sets, useful)
    rows = np.flatnonzero(bits.any(axis=1))
    layout = spread.steps.glass.layout
    words = keys(layout.words({back.word for back in backs}))
    waiting = list(backs)
    for block in Level(before.words[rows], bits[rows]).blocks():
        moves = spread.moves(block)
        moves = moves.where(np.isin(keys(moves.words), words))
        waiting = [back for back in waiting if not _found(layout, sets, block, moves, back)]
        if not waiting:
            return
    raise RuntimeError("a state of the search has no way to it")


def _found(layout: Layout, sets: FaultSets, block: Level, moves: Moves, back: _Back) -> bool:
    here = np.flatnonzero(same(moves.words, layout.words([back.word])))
    led = here[_holds(moves.bits[here], back.set)]
    for at in led.tolist():
        row, event = int(moves.row[at]), int(moves.event[at])
        held = block.bits[row : row + 1]
        before = (
            [back.set] if event != NOBODY else [one for one in sets.within(back.set) if _holds(held, one)[0]]
        )
        if before:
            back.stages.append(Stage(event, back.word, back.set))
            back.word, back.set = layout.numbers(block.words[row : row + 1])[0], before[0]
            return True
    return False


def _columns(sets: FaultSets, numbers: Iterable[int]) -> Bits:
    chosen = np.zeros((1, len(sets.sets)), np.bool_)
    chosen[0, list(numbers)] = True
    return sets.pack(chosen)


def _holds(bits: Bits, number: int) -> Truths:
    found: Truths = (bits[:, number >> 6] >> np.uint64(number & 63)) & np.uint64(1) != 0
    return found
