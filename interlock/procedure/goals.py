"""What a proof test has to exercise, and how far a test of one function has come.

The trial of a function begins when its demand, alone, finds the bench running, and ends when the units have
been started again after the reset; what happens between counts for this function.
"""

from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass
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
    """The functions under test, several if one device is the demand of all; of which of them the reset is done."""

    functions: tuple[str, ...] = ()
    reset: frozenset[str] = frozenset()


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
        reached, functions, reset = list[Goal](), list[str](), set[str]()
        for name in trial.functions:
            kinds = tuple(self._reached(trial, name, before, after))
            reached += [Goal(kind, name) for kind in kinds]
            if GoalKind.RESTART not in kinds:
                functions.append(name)
            own = self._bench.required.functions[name]
            done = GoalKind.RESET in kinds or (GoalKind.RELEASE in kinds and own.without_reset is not None)
            if (done or name in trial.reset) and self._permitted(name, after):
                reset.add(name)
        return Trial(tuple(functions), frozenset(reset & set(functions))), tuple(reached)

    def _goes_on(self, trial: Trial, rising: list[str]) -> bool:
        """Whether the trial of another function lasts: only what is held to run was let go, as it must be then."""
        held = {name for name, one in self._bench.required.functions.items() if one.demand in self._starting}
        return bool(trial.functions) and not set(trial.functions) & set(rising) and held.issuperset(rising)

    def _demanded(self, rising: list[str], before: int, after: int) -> tuple[Trial, tuple[Goal, ...]]:
        devices = {self._bench.required.functions[name].demand for name in rising}
        alone = len(devices) == 1 and not any(one[before] for one in self._is.demand.values())
        if alone and (self._is.running(before) or set(rising) <= self._at_rest):
            mode = self._is.situation(self._bench, before)
            return Trial(tuple(rising)), tuple(Goal(GoalKind.STOP, name, mode) for name in rising)
        return IDLE, ()

    def _reached(self, trial: Trial, name: str, before: int, after: int) -> Iterator[GoalKind]:
        demand, function = self._is.demand[name], self._bench.required.functions[name]
        reset = self._is.pressed[function.reset_by or self._bench.required.reset.by]
        rises, falls = bool(reset[after] and not reset[before]), bool(reset[before] and not reset[after])
        if demand[before] and not demand[after]:
            yield GoalKind.RELEASE
            if function.demand in self._starting and self._is.running(after):
                yield GoalKind.RESTART
        elif demand[after]:
            if falls:
                yield GoalKind.RESET_BARRED
        elif rises and name not in trial.reset:
            yield GoalKind.PRESS
        elif falls and self._permitted(name, after):
            yield GoalKind.RESET
        if name in trial.reset and self._runs(trial, name, after):
            yield GoalKind.RESTART
        yield from self._supply(name, before, after)

    def _runs(self, trial: Trial, name: str, state: int) -> bool:
        """The bench runs; of several functions under test each has only its own units to wait for."""
        units = self._bench.required.units_of(name) if len(trial.functions) > 1 else ()
        return self._is.running(state) or (bool(units) and self._is.units(state).issuperset(units))

    def _permitted(self, name: str, state: int) -> bool:
        """Some unit of the function may be started, or no unit tells whether it may."""
        units = self._bench.required.units_of(name)
        told = [one for unit, one in self._is.permit.items() if unit in units]
        return not told or any(one[state] for one in told)

    def _supply(self, name: str, before: int, after: int) -> Iterator[GoalKind]:
        rule = self._bench.required.functions[name].supply
        if rule is None:
            return
        button = self._is.pressed[rule.on_by]
        if not (button[after] and not button[before]):
            return
        if self._is.demand[name][after]:
            yield GoalKind.SUPPLY_DEAD
        elif self._is.supply[name][after] and not self._is.supply[name][before]:
            yield GoalKind.SUPPLY_ANEW
