"""A bench with faults, ready to be searched under given fault sets."""

import numpy as np

from interlock.chain import ir
from interlock.chain.bent import Faulty
from interlock.chain.fault_sets import Bits, FaultSets
from interlock.chain.kept_steps import KeptSteps
from interlock.chain.layout import Layout, Words
from interlock.chain.masks import NONE, Masks
from interlock.chain.outcomes import Truth
from interlock.chain.sight import Glass
from interlock.chain.spread import Kept, Level
from interlock.chain.stepping import Numbers

__all__ = ["Ground"]


class Ground:
    """A bench with faults, ready to be searched under given fault sets."""

    def __init__(self, faulty: Faulty, sets: FaultSets, observers: tuple[ir.Observer, ...]) -> None:
        self.faulty, self.sets = faulty, sets
        fields = {one.field: one.id for one in faulty.faults}
        devices = [field for field in faulty.chain.fields if field.name not in fields]
        memory = [observer.field for observer in observers]
        self.layout = Layout([*devices, *memory])
        self.glass, self.masks = Glass(self.layout, sets, fields), Masks(sets)
        self.steps = KeptSteps(self.glass, self.masks, faulty.chain, observers)
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
            if event.kind is ir.EventKind.LATE and event.steps  # without: of a device that is left out
            if within_ns is None or event.delay_ns <= within_ns
        )
