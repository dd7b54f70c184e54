"""The search of a bench under faults, part by part; what is found and the ways to it are told for the whole bench."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from interlock.chain.arrays import Truths
from interlock.chain.followed import followed
from interlock.chain.ground import Ground
from interlock.chain.hunt import Found, Hunt, spread_all
from interlock.chain.losses import Loss
from interlock.chain.missteps import Misstep
from interlock.chain.parts import Part
from interlock.chain.spread import OutOfRoom, Spread
from interlock.chain.trail import Stage, trails

__all__ = ["Search", "Searched", "search"]


@dataclass(frozen=True, slots=True)
class Searched:
    """A part of a bench with what was found in it."""

    hunt: Hunt
    spread: Spread

    @property
    def ground(self) -> Ground:
        """What was searched."""
        return self.hunt.ground

    @property
    def states(self) -> int:
        """The situations met, each under each of its sets."""
        return self.ground.sets.count(self.spread.met.bits)


@dataclass(frozen=True, slots=True)
class Search:
    """All parts of a bench, searched as far as `shortfall` says (empty: to the end)."""

    ground: Ground  # the whole bench
    parts: tuple[Searched, ...]
    order: tuple[Loss | Misstep, ...]  # all that was sought
    shortfall: str

    @property
    def in_parts(self) -> bool:
        """The bench was not searched as one."""
        return any(one.ground is not self.ground for one in self.parts)

    @property
    def restless(self) -> Truths:
        """Of each set of the whole bench, whether under it something never comes to rest."""
        found = np.zeros(len(self.ground.sets.sets), np.bool_)
        for one in self.parts:
            sets = one.ground.sets
            found |= sets.unpack(one.ground.steps.restless[None, :])[0][self.ground.sets.narrowed(sets)]
        return found

    def each(self) -> Iterator[tuple[Loss | Misstep, dict[int, Found]]]:
        """Whatever was sought, in the order of the whole bench, and where it was found first, by the set's number."""
        places = {id(one): at for at, one in enumerate(self.order)}
        found = [each for at, one in enumerate(self.parts) for each in self._of(at, one)]
        yield from sorted(found, key=lambda one: places[id(one[0])])

    def _of(self, at: int, one: Searched) -> Iterator[tuple[Loss | Misstep, dict[int, Found]]]:
        """What was found in a part, also under sets with faults that it does not have."""
        if one.ground is self.ground:
            yield from one.hunt.each()
            return
        narrowed = self.ground.sets.narrowed(one.ground.sets)
        for what, where in one.hunt.each():
            hit = np.zeros(len(one.ground.sets.sets), np.bool_)
            hit[list(where)] = True
            numbers = np.flatnonzero(hit[narrowed])
            less = narrowed[numbers]
            yield (
                what,
                {
                    number: where[small].of_part(at, number)
                    for number, small in zip(numbers.tolist(), less.tolist(), strict=True)
                },
            )

    def sought(self, found: Found) -> Loss | Misstep:
        """What was found."""
        return self.parts[found.part].hunt.sought(found)

    def ways(self, found: Iterable[Found]) -> dict[Found, tuple[Stage, ...]]:
        """A shortest way to each thing found, with the event that shows it at its end."""
        every, to = list(found), dict[Found, tuple[Stage, ...]]()
        for at, one in enumerate(self.parts):
            mine = [each for each in every if each.part == at]
            goals = trails(one.spread, [each.goal for each in mine])
            told: Sequence[tuple[Stage, ...]] = [(*goals[each.goal], *each.then) for each in mine]
            if one.ground is not self.ground:
                told = self._followed(one, mine, told)
            to |= zip(mine, told, strict=True)
        return to

    def _followed(
        self, of: Searched, found: Sequence[Found], to: Sequence[tuple[Stage, ...]]
    ) -> list[tuple[Stage, ...]]:
        part, whole = of.ground.sets, self.ground.sets
        ways = [
            [Stage(one.event, one.word, whole.widened(part, one.set, each.under)) for one in way]
            for each, way in zip(found, to, strict=True)
        ]
        return followed(self.ground, of.ground.layout, ways)


def search(whole: Ground, parts: Sequence[Part], of: Callable[[Part], Ground], most_bytes: int) -> Search:
    """Each part (a single one is the whole bench) from power-up on; raises TooWide."""
    found, why, room = list[Searched](), "", most_bytes
    for part in parts:
        ground = whole if len(parts) == 1 else of(part)
        spread = Spread(ground.steps, ground.events, arriving=True, most_bytes=room)
        found.append(Searched(Hunt(ground, part.sought, part.wrong), spread))
        try:
            spread_all(spread, found[-1].hunt)
        except OutOfRoom as short:
            why = why or str(short)
        room -= spread.taken
    return Search(whole, tuple(found), parts[0].order, why)
