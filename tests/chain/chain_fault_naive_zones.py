"""The second opinion on faults for benches with zones, own resets, stops without reset, modes and cables.

Written from what a bench's file means to people: a person's mode and demand, the reset of each function, the units
that it stops, and two lines of a cable that touch. No compiled form, no bits, no rules shared with what is tested.
"""

from collections.abc import Callable, Iterator
from functools import cache
from itertools import combinations

from chain_fault_naive import FaultJudge, FaultyWorld, Node, Notes, Set, every_fault
from chain_naive import State, World

from interlock.bench import Bench
from interlock.bench.expr import Const, evaluate

Pair = tuple[str, str]
What = tuple[str, str, str]
"""A function, an effect of it, the unit that has it (empty where it is not of units)."""


def every_short(bench: Bench) -> dict[str, Pair]:
    """Each two lines of each cable that is not excluded; here no two lines are of one device."""
    out, found = {one.fault for one in bench.exclusions}, {}
    for name, cable in bench.cables.items():
        for one, other in combinations(cable.lines, 2):
            assert one.partition(".")[0] != other.partition(".")[0], "shorts within a device are the kind's"
            found[f"{name}.short_{one.replace('.', '_')}_{other.replace('.', '_')}"] = one, other
    return {name: pair for name, pair in found.items() if name not in out}


class CableWorld(FaultyWorld):
    """Devices with faults, and lines that touch: a line is on as soon as one of the two is driven."""

    def __init__(self, bench: Bench, present: Set) -> None:
        shorts = every_short(bench)
        self.shorted = [pair for name, pair in shorts.items() if name in present]
        self.present = {}
        super().__init__(bench, every_fault(bench), present - shorts.keys())

    def _shown(self, port: str, sound: dict[str, bool], state: State) -> bool:
        device, output = port.split(".")
        forced = [fault.outputs[output] for fault in self.of(device) if output in fault.outputs]
        value = sound[port]
        for expr in forced:
            if not isinstance(expr, Const):
                value = evaluate(expr, lambda name: self._meant(device, name, sound, state))
        value = self._touched(port, value, lambda line: self._driven(line, sound))
        return Const(False) not in forced and (Const(True) in forced or value)

    def _inputs(self, state: State, device: str) -> dict[str, bool]:
        sound, found = World._inputs(self, state, device), {}
        for needed, reaching in sound.items():
            forced = [fault.inputs[needed] for fault in self.of(device) if needed in fault.inputs]
            value = reaching
            for expr in forced:
                if not isinstance(expr, Const):
                    value = evaluate(expr, sound.__getitem__)
            value = self._touched(f"{device}.{needed}", value, lambda line: self._reaching(line, state))
            found[needed] = Const(True) in forced or (Const(False) not in forced and value)
        return found

    def _touched(self, port: str, value: bool, line: Callable[[str], bool]) -> bool:
        """What a line carries when it touches another one; of several shorts the last one counts."""
        for pair in self.shorted:
            if port in pair:
                value = any(map(line, pair))
        return value

    def _driven(self, line: str, sound: dict[str, bool]) -> bool:
        """An output without faults; an input by its wiring from such outputs."""
        return sound[line] if line in sound else self._wired(line, sound)

    def _reaching(self, line: str, state: State) -> bool:
        """An input by its wiring from outputs as they are, faults included; an output without faults."""
        sound = World._values(self, state)
        return sound[line] if line in sound else self._wired(line, self.values(state))

    def _wired(self, line: str, values: dict[str, bool]) -> bool:
        device, _, needed = line.partition(".")
        wired = self.bench.wiring.get(line)
        default = self.kinds[self.names.index(device)].inputs[needed] == "always"
        return default if wired is None else evaluate(wired, values.__getitem__)


class ZonedFaultJudge(FaultJudge):
    """All worlds of such a bench under at most `most` faults; each unit of a function is looked at for itself."""

    def __init__(self, bench: Bench, most: int) -> None:
        self.bench, self.functions = bench, bench.required.functions
        self.faults = {**every_fault(bench), **every_short(bench)}
        self.sound = World(bench)
        self.kind = dict(zip(self.sound.names, self.sound.kinds, strict=True))
        self.sets = [frozenset(one) for n in range(most + 1) for one in combinations(self.faults, n)]
        self.world: dict[Set, CableWorld] = {}
        for one in self.sets:
            self.world[one] = CableWorld(bench, one)  # RecursionError: choose a bench that comes to rest
        self.due = cache(self.due)
        self.restless = set()
        self.nodes = self._nodes()

    def demand(self, state: State, name: str, *, full: bool) -> bool:
        return self.required_in(state, name) and super().demand(state, name, full=full)

    def required_in(self, state: State, name: str) -> bool:
        """A mode is selected in which the function is required, or none at all: then each function is."""
        modes, own = self.bench.required.modes, self.functions[name].in_modes
        if modes is None or own is None:
            return True
        selected = {
            mode
            for mode, how in modes.each.items()
            if evaluate(how.selected, lambda port: self.said(state, port))
        }
        return not selected or bool(selected & set(own))

    def button(self, name: str) -> str:
        return self.functions[name].reset_by or self.bench.required.reset.by

    def units(self, name: str) -> list[str]:
        own = self.functions[name].units
        return self.bench.required.effects.torque_off.of if own is None else own

    def note(self, was: State, notes: Notes, now: State) -> Notes:
        """A stop lasts until its own reset is pressed; without one, as long as it is demanded."""
        stopped = set()
        for name, function in self.functions.items():
            port = f"{self.button(name)}.pressed"
            pressed = self.said(now, port) and not self.said(was, port)
            over = pressed if function.without_reset is None else not self.demand(now, name, full=False)
            if self.demand(now, name, full=True) or (name in notes.stopped and not over):
                stopped.add(name)
        return Notes(frozenset(stopped), frozenset())

    def lost(self, node: Node) -> Iterator[What]:
        values = self.world[node.faults].values(node.state)
        for name in node.notes.stopped:
            for unit in self.units(name):
                if values[f"{unit}.torque"] or self.may(node, unit, values[f"{unit}.enabled"]):
                    yield name, "torque_off", unit

    def may(self, node: Node, unit: str, enabled: bool) -> bool:
        """It is permitted, and may make torque while it is fed."""
        return enabled and self.world[node.faults].inputs(node.state, unit)["supply"]

    def timed(self, node: Node, what: What) -> bool:
        return what[0] in node.notes.stopped

    def soonest_by_unit(self) -> dict[tuple[Set, str, str], int]:
        """For each fault set, function and unit: after how many steps at the soonest it is lost."""
        return {(faults, name, unit): at for (faults, name, _, unit), at in self.soonest().items()}

    def meant(self, actor: str | None, after: State) -> bool:
        """A person acts on, or holds, what is there to start: no stop device, no reset in use, no mode selector."""
        modes = self.bench.required.modes
        resets = {self.button(name) for name, one in self.functions.items() if one.without_reset is None}
        resets |= {self.bench.required.reset.by} if modes is not None and modes.change == "stops" else set()
        barred = {*resets, *(name for name, kind in self.kind.items() if kind.demand is not None)}
        barred |= set() if modes is None else {modes.by}
        buttons = [name for name, kind in self.kind.items() if kind.momentary and name not in barred]
        held = any(self.sound.values(after).get(f"{button}.pressed", False) for button in buttons)
        return held or (actor is not None and actor not in barred)
