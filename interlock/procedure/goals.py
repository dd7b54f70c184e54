"""What a proof test has to exercise, and how far a test of one function has come.

The trial of a function begins when its demand, alone, finds the bench running, and ends when the units have
been started again after the reset; what happens between counts for this function.
"""

from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from interlock.bench import Bench, kinds_of
from interlock.procedure.features import Features
from interlock.procedure.moves import Move

__all__ = ["IDLE", "Goal", "GoalKind", "Goals", "Trial", "goals_of"]


class GoalKind(StrEnum):
    """What is put to the test."""

    STOP = "stop"
    SUPPLY_DEAD = "supply_on_dead"
    RESET_BARRED = "reset_barred"
    RELEASE = "release"
    SUPPLY_ANEW = "supply_on_anew"
    PRESS = "press_only"
    RESET = "reset"
    RESTART = "restart"


@dataclass(frozen=True, slots=True)
class Goal:
    """One thing of one function to be exercised."""

    kind: GoalKind
    function: str
    situation: str = ""  # of a stop: in which mode the bench ran, where it has several

    @property
    def id(self) -> str:
        """`kind:function`, with `@situation` where there are several."""
        return f"{self.kind}:{self.function}" + (f"@{self.situation}" if self.situation else "")


@dataclass(frozen=True, slots=True)
class Trial:
    """The function under test (none: empty) and whether its reset is done."""

    function: str = ""
    reset: bool = False


IDLE = Trial()


_SUPPLY: Final = frozenset({GoalKind.SUPPLY_DEAD, GoalKind.SUPPLY_ANEW})
_RESETS: Final = frozenset({GoalKind.RESET_BARRED, GoalKind.PRESS, GoalKind.RESET})
_NO_TORQUE: Final = frozenset({GoalKind.STOP, GoalKind.RELEASE}) | _SUPPLY


def goals_of(bench: Bench, situations: Iterable[str] = ("",)) -> tuple[Goal, ...]:
    """Every goal of every function; its stop once in each situation."""
    modes = tuple(situations) or ("",)
    return tuple(
        Goal(kind, name, mode)
        for name, function in bench.required.functions.items()
        for kind in GoalKind
        if function.supply is not None or kind not in _SUPPLY
        if "torque_off" in function.effects or kind in _NO_TORQUE
        if function.without_reset is None or kind not in _RESETS
        for mode in (modes if kind is GoalKind.STOP else ("",))
    )


class Goals:
    """Tells which goals a move reaches, and what becomes of the trial."""

    def __init__(self, bench: Bench, features: Features, at_rest: Set[str] = frozenset()) -> None:
        """`at_rest`: functions whose demand never finds the bench running, as that of a guard locked until then."""
        self._bench, self._is, self._at_rest = bench, features, at_rest
        kinds = kinds_of(bench)
        self._starting = {name for name, device in bench.devices.items() if kinds[device.kind].starts}

    def lawful(self, move: Move, before: int, after: int) -> bool:
        """A button that is held is let go before anything else; references are set before a unit starts."""
        buttons = {**self._is.held, **self._is.pressed}
        held = [button for button, pressed in buttons.items() if pressed[before]]
        if held and move.device not in held:
            return False
        starts = any(one[after] and not one[before] for one in self._is.torque.values())
        return not starts or bool(self._is.set[before])

    def step(self, trial: Trial, before: int, after: int) -> tuple[Trial, tuple[Goal, ...]]:
        """The trial after a move between two states, and the goals reached by it."""
        rising = [name for name, one in self._is.demand.items() if one[after] and not one[before]]
        if rising and not self._goes_on(trial, rising):
            return self._demanded(rising, before, after)
        if not trial.function:
            return IDLE, ()
        kinds = tuple(self._reached(trial, before, after))
        own = self._bench.required.functions[trial.function]
        if GoalKind.RESET in kinds or (GoalKind.RELEASE in kinds and own.without_reset is not None):
            trial = replace(trial, reset=True)
        if trial.reset and not self._permitted(trial, after):
            trial = replace(trial, reset=False)
        return IDLE if GoalKind.RESTART in kinds else trial, tuple(
            Goal(kind, trial.function) for kind in kinds
        )

    def _goes_on(self, trial: Trial, rising: list[str]) -> bool:
        """Whether the trial of another function lasts: only what is held to run was let go, as it must be then."""
        held = {name for name, one in self._bench.required.functions.items() if one.demand in self._starting}
        return bool(trial.function) and trial.function not in rising and held.issuperset(rising)

    def _demanded(self, rising: list[str], before: int, after: int) -> tuple[Trial, tuple[Goal, ...]]:
        alone = len(rising) == 1 and not any(one[before] for one in self._is.demand.values())
        if alone and (self._is.running(before) or rising[0] in self._at_rest):
            return Trial(rising[0]), (
                Goal(GoalKind.STOP, rising[0], self._is.situation(self._bench, before)),
            )
        return IDLE, ()

    def _reached(self, trial: Trial, before: int, after: int) -> Iterator[GoalKind]:
        demand = self._is.demand[trial.function]
        function = self._bench.required.functions[trial.function]
        reset = self._is.pressed[function.reset_by or self._bench.required.reset.by]
        rises, falls = bool(reset[after] and not reset[before]), bool(reset[before] and not reset[after])
        if demand[before] and not demand[after]:
            yield GoalKind.RELEASE
            if function.demand in self._starting and self._is.running(after):
                yield GoalKind.RESTART
        elif demand[after]:
            if falls:
                yield GoalKind.RESET_BARRED
        elif rises and not trial.reset:
            yield GoalKind.PRESS
        elif falls and self._permitted(trial, after):
            yield GoalKind.RESET
        if trial.reset and self._is.running(after):
            yield GoalKind.RESTART
        yield from self._supply(trial, before, after)

    def _permitted(self, trial: Trial, state: int) -> bool:
        """Some unit of the function may be started, or no unit tells whether it may."""
        units = self._bench.required.units_of(trial.function)
        told = [one for unit, one in self._is.permit.items() if unit in units]
        return not told or any(one[state] for one in told)

    def _supply(self, trial: Trial, before: int, after: int) -> Iterator[GoalKind]:
        rule = self._bench.required.functions[trial.function].supply
        if rule is None:
            return
        button = self._is.pressed[rule.on_by]
        if not (button[after] and not button[before]):
            return
        if self._is.demand[trial.function][after]:
            yield GoalKind.SUPPLY_DEAD
        elif self._is.supply[trial.function][after] and not self._is.supply[trial.function][before]:
            yield GoalKind.SUPPLY_ANEW
