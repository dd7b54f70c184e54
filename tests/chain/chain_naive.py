"""A second opinion, written from the requirement alone: no library, no compiled form, no shared observers.

It walks a bench state by state with plain dictionaries and keeps its own books on what has happened. Slow.
"""

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import NamedTuple

from chain_over import Over

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.expr import Const, evaluate, names
from interlock.bench.kind import Transition
from interlock.chain.compile import compile_bench
from interlock.chain.let_go import parted
from interlock.chain.requirement import Requirement

State = tuple[str, ...]


class Move(NamedTuple):
    """Something that can happen: by a person (delay None) or late (delay in nanoseconds)."""

    device: str
    trigger: str
    delay_ns: int | None
    after: State


class World:
    """The devices of a bench, moved by their kinds' transitions read as written."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.names = list(bench.devices)
        self.kinds: list[Kind] = [kinds_of(bench)[bench.devices[name].kind] for name in self.names]
        self.values = cache(self._values)
        self.inputs = cache(self._inputs)
        self.settle = cache(self._settle)
        self.moves = cache(self._moves)
        self.over = Over(bench)
        self.start = self.settle(tuple(kind.start for kind in self.kinds))

    def _values(self, state: State) -> dict[str, bool]:
        return {
            f"{name}.{output}": evaluate(expr, value.__eq__)
            for name, kind, value in zip(self.names, self.kinds, state, strict=True)
            for output, expr in kind.outputs.items()
        }

    def _inputs(self, state: State, device: str) -> dict[str, bool]:
        values = self.values(state)
        found = {}
        for needed, default in self.kinds[self.names.index(device)].inputs.items():
            wired = self.bench.wiring.get(f"{device}.{needed}")
            found[needed] = default == "always" if wired is None else evaluate(wired, values.__getitem__)
        return found

    def _settle(self, state: State) -> State:
        for _ in range(200):
            after = tuple(self._react(state, at) for at in range(len(state)))
            if after == state:
                return state
            state = after
        raise RecursionError("never at rest")

    def _react(self, state: State, at: int) -> str:
        for step in self.kinds[at].transitions:
            if step.act is None and step.after is None and self._ready(step, state, at):
                return step.to
        return state[at]

    def _ready(self, step: Transition, state: State, at: int) -> bool:
        if state[at] not in step.source:
            return False
        return step.when is None or evaluate(step.when, self.inputs(state, self.names[at]).__getitem__)

    def waiting(self, state: State) -> set[tuple[str, str]]:
        """Device and delay of each late reaction that is still to come."""
        return {
            (name, step.after)
            for at, name in enumerate(self.names)
            for step in self.kinds[at].transitions
            if step.after is not None and self._ready(step, state, at)
        }

    def can_begin(self, step: Transition, state: State, at: int) -> bool:
        """The device of this number can take the step, if it has the time for it."""
        return self._ready(step, state, at)

    def _moves(self, state: State) -> list[Move]:
        return list(self._each_move(state))

    def _each_move(self, state: State) -> Iterator[Move]:
        waiting = self.waiting(state)
        for at, name in enumerate(self.names):
            done = set()
            for step in self.kinds[at].transitions:
                trigger = step.act or step.after
                if trigger is None or trigger in done or not self._ready(step, state, at):
                    continue
                if waiting & self.over.by(name, step):
                    continue
                done.add(trigger)
                delay = None if step.after is None else self.bench.devices[name].delays[step.after]
                after = self.settle((*state[:at], step.to, *state[at + 1 :]))
                yield Move(name, trigger, delay, after)

    def reachable(self) -> set[State]:
        """Every state of the devices that acts and late reactions lead to."""
        met, todo = {self.start}, deque([self.start])
        while todo:
            for move in self.moves(todo.popleft()):
                if move.after not in met:
                    met.add(move.after)
                    todo.append(move.after)
        return met


@dataclass(frozen=True, slots=True)
class Books:
    """What an attentive person would note down on the way."""

    unreset: frozenset[str] = frozenset()  # functions demanded since the last lawful reset
    good_press: frozenset[str] = (
        frozenset()
    )  # functions whose reset is pressed, no demand barring it since before
    mode_reset: bool = False  # the same of the reset that follows a change of mode
    mode_open: bool = False  # the mode was changed since the last lawful reset
    supply_taken: frozenset[str] = frozenset()  # functions after which supply-on was not pressed
    one_sided: frozenset[str] = frozenset()  # functions of which one channel opened alone so far
    mistrusted: frozenset[str] = frozenset()  # ... and closed again
    alone: frozenset[str] = frozenset()  # the same two, the device looked at without those in series with it
    doubted: frozenset[str] = frozenset()
    braked: frozenset[tuple[str, str]] = (
        frozenset()
    )  # functions of category 1, units that have braked for them
    stopping: frozenset[tuple[str, int]] = frozenset()  # units to be stopped in ns whose torque never went
    brief: frozenset[tuple[str, str]] = (
        frozenset()
    )  # the same by functions that need no reset, not started anew


class Judge:
    """Keeps the books of a bench and tells what its requirement forbids."""

    def __init__(self, world: World) -> None:
        self.world, self.bench = world, world.bench
        self.required = world.bench.required
        self.functions = self.required.functions
        self.units = self.required.effects.torque_off.of
        self.kind = dict(zip(world.names, world.kinds, strict=True))
        self.resettable = [name for name, one in self.functions.items() if one.without_reset is None]
        self.demands = cache(self._demands)
        self.mode = cache(self._mode)
        self.note = cache(self._note)

    @cached_property
    def parted(self) -> "Judge | None":
        """The same where people also act just before another one ends an act; None if that changes nothing."""
        bench = parted(Requirement(self.bench, compile_bench(self.bench)))
        return None if bench is None else Judge(World(bench))

    def value(self, state: State, port: str) -> bool:
        return self.world.values(state)[port]

    def _demands(self, state: State) -> frozenset[str]:
        """The functions whose demand is present."""
        values = self.world.values(state)
        return frozenset(
            name
            for name, function in self.functions.items()
            for wanted in [self.kind[function.demand].demand]
            if wanted is not None
            and self.required_now(state, name)
            and evaluate(wanted, lambda output, of=function.demand: values[f"{of}.{output}"])
        )

    def _mode(self, state: State) -> str | None:
        modes = self.required.modes
        if modes is None:
            return None
        values = self.world.values(state)
        return next(
            (one for one, how in modes.each.items() if evaluate(how.selected, values.__getitem__)), None
        )

    def required_now(self, state: State, name: str) -> bool:
        """The function is required in the selected mode; with none selected, each is."""
        own, mode = self.functions[name].in_modes, self.mode(state)
        return own is None or mode is None or mode in own

    def units_of(self, name: str | None) -> list[str]:
        own = None if name is None else self.functions[name].units
        return self.units if own is None else own

    def limit_ns(self, name: str | None, unit: str) -> int:
        common = self.required.effects.torque_off
        own = {} if name is None else self.functions[name].limits
        return own.get(unit, common.limits.get(unit, common.within))

    def button(self, name: str | None) -> str:
        own = None if name is None else self.functions[name].reset_by
        return own or self.required.reset.by

    def seen(self, state: State) -> frozenset[str]:
        """The demands of which the devices' contacts tell; not those within a sensor's time of response."""
        return frozenset(
            name for name in self.demands(state) if not self._hidden(state, self.functions[name].demand)
        )

    def _hidden(self, state: State, device: str) -> bool:
        kind, here = self.kind[device], state[self.world.names.index(device)]
        told_by = names(kind.demand)

        def shows(value: str) -> dict[str, bool]:
            return {one: evaluate(expr, value.__eq__) for one, expr in kind.outputs.items()}

        def asks(value: str) -> bool:
            return evaluate(kind.demand, shows(value).__getitem__)

        contacts = {one: value for one, value in shows(here).items() if one not in told_by}
        comes = any(step.after and here in step.source and asks(step.to) for step in kind.transitions)
        alike = any(contacts.items() <= shows(value).items() for value in kind.states if not asks(value))
        return bool(contacts) and comes and alike

    def bars(self, name: str | None) -> set[str]:
        """The functions under whose demand the reset of this one does nothing."""
        same = {one for one in self.resettable if self.button(one) == self.button(name)}
        return {one for one in same if set(self.units_of(name)) <= set(self.units_of(one))}

    def torque(self, state: State, unit: str) -> bool:
        return self.value(state, f"{unit}.torque")

    def permit(self, state: State, unit: str) -> bool:
        """It is enabled and has a supply, or may live on a charge."""
        return self.enabled(state, unit) and (self.supplied(state, unit) or self.charge(state, unit))

    def enabled(self, state: State, unit: str) -> bool:
        return self.world.values(state).get(f"{unit}.enabled", self.torque(state, unit))

    def released(self, state: State, unit: str) -> bool:
        """It is enabled; and fed, where nothing but the supply can stop it."""
        wired = [self.bench.wiring.get(f"{unit}.{one}") for one in self.kind[unit].off_channels]
        bridged = "supply" in self.kind[unit].inputs and wired and set(wired) == {Const(True)}
        return self.permit(state, unit) if bridged else self.enabled(state, unit)

    def supplied(self, state: State, unit: str) -> bool:
        return self.world.inputs(state, unit).get("supply", True)

    def charge(self, state: State, unit: str) -> bool:
        """A charged bus shares its source with the unit, whose supply does not name that bus."""
        return any(self.value(state, f"{bus}.live") for bus in charged_beside(self.bench, self.kind, unit))

    def by_supply_on(self, name: str | None) -> bool:
        """The button that switches the function's supply on is also what resets it."""
        return name in self.resettable and supply_resets(self.bench, name)

    def pressed(self, state: State, name: str | None = None) -> bool:
        return self.value(state, f"{self.button(name)}.pressed")

    def lawful(self, was: State, books: Books, now: State, name: str | None) -> bool:
        """This step is the release of (the function's) reset after a good press."""
        good = books.mode_reset if name is None else name in books.good_press or self.by_supply_on(name)
        free = not self.seen(now) & self.bars(name)
        return good and self.pressed(was, name) and not self.pressed(now, name) and free

    def good(self, was: State, now: State, name: str | None, *, before: bool) -> bool:
        fresh = self.pressed(now, name) and not self.pressed(was, name)
        return self.pressed(now, name) and not self.seen(now) & self.bars(name) and (fresh or before)

    def lines(self, state: State) -> tuple[bool, bool]:
        """Whether all first, and all second channels of the demanding devices are closed."""
        first, second = True, True
        for name, function in self.functions.items():
            a, b = self.channels(state, name, function.demand)
            first, second = first and a, second and b
        return first, second

    def channels(self, state: State, name: str, device: str, *, itself: bool = False) -> tuple[bool, bool]:
        names = self.kind[device].channels
        if not names:
            calm = name not in self.demands(state)
            return calm, calm
        if not itself and not self.required_now(state, name):
            return True, True
        return self.value(state, f"{device}.{names[0]}"), self.value(state, f"{device}.{names[-1]}")

    def _note(self, was: State, books: Books, now: State) -> Books:
        """The books after a step (or at power-up, with `was` the same as `now`)."""
        demands, changed = self.demands(now), self.mode(was) != self.mode(now)
        unreset = {
            name
            for name in books.unreset
            if name in self.resettable and not self.lawful(was, books, now, name)
        }
        mode_open = changed or (books.mode_open and not self.lawful(was, books, now, None))
        good = {
            name for name in self.resettable if self.good(was, now, name, before=name in books.good_press)
        }
        books = replace(
            books,
            unreset=frozenset(unreset | demands),
            good_press=frozenset(good),
            mode_reset=self.good(was, now, None, before=books.mode_reset),
            mode_open=self.required.modes is not None and mode_open,
        )
        books = replace(
            books,
            supply_taken=self._supply(was, books, now),
            stopping=self._stopping(books, now),
            brief=self._brief(books, now) if self.mode(was) == self.mode(now) else frozenset(),
        )
        return self._by_itself(was, self._one_sided(was, books, now), now)

    def brakes(self, state: State, unit: str) -> bool:
        braking = self.kind[unit].braking
        return braking is not None and evaluate(braking, state[self.world.names.index(unit)].__eq__)

    def _supply(self, was: State, books: Books, now: State) -> frozenset[str]:
        taken = set()
        for name, function in self.functions.items():
            if function.supply is None:
                continue
            button = f"{function.supply.on_by}.pressed"
            asked = self.value(now, button)
            if not self.kind[function.supply.on_by].momentary:
                asked = asked and not self.value(was, button)
            if name in self.demands(now) or (name in books.supply_taken and not asked):
                taken.add(name)
        return frozenset(taken)

    def _stopping(self, books: Books, now: State) -> frozenset[tuple[str, int]]:
        wanted = {
            (unit, self.limit_ns(name, unit))
            for name in self.demands(now) & set(self.resettable)
            if "torque_off" in self.functions[name].effects
            for unit in self.units_of(name)
        }
        return frozenset((unit, limit) for unit, limit in wanted | books.stopping if self.torque(now, unit))

    def _brief(self, books: Books, now: State) -> frozenset[tuple[str, str]]:
        demands, held = self.demands(now), self.somebody_starts(now)
        for_now = {
            (name, unit)
            for name in demands - set(self.resettable)
            if "torque_off" in self.functions[name].effects
            and not self.kind[self.functions[name].demand].guard
            for unit in self.units_of(name)
        }
        before = {(name, unit) for name, unit in books.brief if name in demands or not held}
        return frozenset((name, unit) for name, unit in for_now | before if self.torque(now, unit))

    def somebody_starts(self, state: State) -> bool:
        """Somebody holds a button that is there to start."""
        supplies = {one.supply.on_by for one in self.functions.values() if one.supply is not None}
        stops = {name for name, kind in self.kind.items() if kind.demand is not None and not kind.starts}
        modes = self.required.modes
        barred = {self.button(one) for one in self.resettable} | supplies | stops
        barred |= set() if modes is None else {modes.by}
        barred |= {self.button(None)} if modes is not None and modes.change == "stops" else set()
        buttons = {name for name, kind in self.kind.items() if kind.momentary} - barred
        return any(self._down(state, name) for name in buttons)

    def _down(self, state: State, button: str) -> bool:
        said, kind = self.world.values(state), self.kind[button]
        if "pressed" in kind.outputs:
            return said[f"{button}.pressed"]
        asks = kind.demand is None or evaluate(kind.demand, lambda port: said[f"{button}.{port}"])
        return kind.starts and not asks

    def _one_sided(self, was: State, books: Books, now: State) -> Books:
        one_sided, mistrusted = set(books.one_sided), set(books.mistrusted)
        first, second = self.lines(now)
        for name, function in self.functions.items():
            if not self.kind[function.demand].channels:
                continue
            a, b = self.channels(now, name, function.demand)
            if (not first and not second) or self.mode(was) != self.mode(now):
                one_sided.discard(name)
                mistrusted.discard(name)
            elif all(self.lines(was)) and a != b:
                one_sided.add(name)
                mistrusted.discard(name)
            elif name in one_sided and first and second:
                one_sided.discard(name)
                mistrusted.add(name)
        return replace(books, one_sided=frozenset(one_sided), mistrusted=frozenset(mistrusted))

    def _by_itself(self, was: State, books: Books, now: State) -> Books:
        alone, doubted = set(books.alone), set(books.doubted)
        for name, function in self.functions.items():
            if not self.kind[function.demand].channels:
                continue
            before, after = (self.channels(state, name, function.demand, itself=True) for state in (was, now))
            if not any(after):
                alone.discard(name)
                doubted.discard(name)
            elif all(before) and not all(after):
                alone.add(name)
                doubted.discard(name)
            elif name in alone and all(after):
                alone.discard(name)
                doubted.add(name)
        return replace(books, alone=frozenset(alone), doubted=frozenset(doubted))


def supply_resets(bench: Bench, name: str) -> bool:
    """The function's supply is switched on by the very button that resets it."""
    function = bench.required.functions[name]
    return function.supply is not None and function.supply.on_by == (
        function.reset_by or bench.required.reset.by
    )


def charged_beside(bench: Bench, kind: Mapping[str, Kind], unit: str) -> list[str]:
    """The buses with a source in common with the unit, unless its supply names them."""

    def sources(device: str, only: str = "") -> set[str]:
        wires = [wire for port, wire in bench.wiring.items() if port.startswith(f"{device}.{only}")]
        return {one.split(".")[0] for wire in wires for one in names(wire)}

    feeding = sources(unit, "supply") if "supply" in kind[unit].inputs else set()
    buses = [name for name in bench.devices if "live" in kind[name].outputs and name not in feeding]
    return [bus for bus in buses if feeding & sources(bus)]
