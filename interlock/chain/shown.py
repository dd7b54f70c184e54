"""Whether, and at which act, a fault set shows before harm is done, as the person at the bench sees it.

A single fault is detected if the bench is never at work with it (it stops at once, or never starts), if some
demand reveals it (see `reveal`) whose own torque-off the fault does not lose, or if a required reaction other
than torque visibly fails while the torque goes. That the torque itself does not go is harm, not detection.
Several faults are detected if, whichever comes first, one of them, or the smaller set, is detected before the
last has come: then nobody works with all of them.
"""

from dataclasses import dataclass
from itertools import permutations
from typing import Final

from interlock.chain.fault_table import Explored

__all__ = ["Showing", "Shown"]

_TORQUE: Final = "torque_off"


@dataclass(frozen=True, slots=True)
class Shown:
    """Whether a set is detected, at which act in words, by which functions' demands; which others hide it.

    A single fault that is not detected may have an act: it then shows by that, but only once it has done harm.
    """

    detected: bool
    at: str | None
    by: tuple[str, ...]
    masked_by: tuple[str, ...]  # functions whose demand hides what another's has revealed


class Showing:
    """What shows of each set of an exploration, by its number."""

    def __init__(self, explored: Explored) -> None:
        self._explored, self._required = explored, explored.ground.faulty.person
        self._known: dict[int, Shown] = {}

    def of(self, number: int) -> Shown:
        """What shows of the set of this number; nothing, where the search fell short."""
        if number not in self._known:
            self._known[number] = self._single(number) if self._is_small(number) else self._several(number)
        return self._known[number]

    def hidden_order(self, number: int, function: str | None = None) -> tuple[int, ...] | None:
        """An order in which the faults of the set can come, none of them found before the last; None: there is none.

        With a function, only what its own demand reveals, and no other stop device hides, counts as found.
        """
        for order in permutations(self._explored.sets.sets[number]):
            firsts = (tuple(sorted(order[:size])) for size in range(1, len(order)))
            if not any(self._found(self._explored.sets.number[one], function) for one in firsts):
                return order
        return None

    def refuses(self, number: int, function: str) -> bool:
        """By itself, before any demand of this function, the bench refuses to work with the set."""
        revealed = self._explored.revealed
        if revealed is None:
            return False
        return not revealed.at_work[number] or bool(set(revealed.by[number]) - {function})

    def _found(self, number: int, function: str | None) -> bool:
        shown, revealed = self.of(number), self._explored.revealed
        if function is None or revealed is None:
            return shown.detected
        masked = any(by == function for by, _ in revealed.masked[number])
        return not revealed.at_work[number] or (function in revealed.by[number] and not masked)

    def _is_small(self, number: int) -> bool:
        revealed = self._explored.revealed
        return revealed is None or number < len(revealed.at_work)

    def _several(self, number: int) -> Shown:
        order, parts = self.hidden_order(number), self._explored.sets.sets[number]
        if order is not None:
            return Shown(False, None, (), ())
        shown = [(one, self.of(self._explored.sets.number[(one,)])) for one in parts]
        seen = [(one, each) for one, each in shown if each.detected]
        said = [f"{self._explored.faults[one].words}: {each.at}" for one, each in seen]
        hides = dict.fromkeys(by for _, each in seen for by in each.masked_by)
        return Shown(True, "; ".join(said), (), tuple(hides))

    def _single(self, number: int) -> Shown:
        revealed = self._explored.revealed
        if revealed is None or number == 0:
            return Shown(False, None, (), ())
        if not revealed.at_work[number]:
            return Shown(True, "at once: the bench stops, or cannot be started", (), ())
        harmed = {
            function
            for (function, effect), by in self._explored.lost.items()
            if effect == _TORQUE and number in by
        }
        by = tuple(one for one in revealed.by[number] if one not in harmed)
        masked = tuple(dict.fromkeys(other for one, other in revealed.masked[number] if one in by))
        if by:
            return Shown(True, self._refused(by[0]), by, masked)
        visible = self._visible(number, harmed)
        late = self._refused(revealed.by[number][0]) if revealed.by[number] else None
        return Shown(bool(visible), visible or late, by, masked)

    def _refused(self, function: str) -> str:
        device = self._required.name(self._required.functions[function].demand)
        return f"after the {device} was operated: the bench can no longer be reset and started"

    def _visible(self, number: int, harmed: set[str]) -> str | None:
        """The first required reaction other than torque that fails, not only for a moment, where the torque goes."""
        for (function, effect), by in self._explored.lost.items():
            if effect != _TORQUE and function not in harmed and number in by and not by[number].brief:
                device = self._required.name(self._required.functions[function].demand)
                complaint = self._explored.search.sought(by[number]).complaint
                return f"when the {device} is operated: {complaint} (while the torque does go)"
        return None
