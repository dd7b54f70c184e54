"""A second opinion on faults, written from their declarations alone: no compiled form, no bits, no shared rules.

One world for each fault set; states and what an attentive person would note are plain tuples. Slow.
"""

from collections import deque
from collections.abc import Iterator
from functools import cache
from itertools import combinations
from typing import NamedTuple

from chain_fault_naive_clock import soonest_late
from chain_naive import Judge, State, World, charged_beside, supply_resets

from interlock.bench import Bench, kinds_of
from interlock.bench.expr import Const, evaluate
from interlock.bench.kind import Fault, Transition
from interlock.bench.wire_faults import faults_of_device

Set = frozenset[str]


def every_fault(bench: Bench) -> dict[str, Fault]:
    """The faults of a bench by `device.fault`, without those excluded."""
    out = {one.fault for one in bench.exclusions}
    kinds = kinds_of(bench)
    found = {
        f"{name}.{fault}": what
        for name, device in bench.devices.items()
        for fault, what in faults_of_device(name, device.name, kinds[device.kind], bench.wiring).items()
    }
    return {name: what for name, what in found.items() if name not in out}


class FaultyWorld(World):
    """The devices of a bench with some faults in them for good."""

    def __init__(self, bench: Bench, faults: dict[str, Fault], present: Set) -> None:
        self.present = {name: faults[name] for name in sorted(present, key=list(faults).index)}
        super().__init__(bench)

    def of(self, device: str) -> list[Fault]:
        return [fault for name, fault in self.present.items() if name.partition(".")[0] == device]

    def _values(self, state: State) -> dict[str, bool]:
        sound = super()._values(state)
        return {port: self._shown(port, sound, state) for port in sound}

    def _shown(self, port: str, sound: dict[str, bool], state: State) -> bool:
        device, output = port.split(".")
        value, on, off = sound[port], False, False
        for fault in self.of(device):
            if output in fault.outputs:
                expr = fault.outputs[output]
                on, off = on or expr == Const(True), off or expr == Const(False)
                if not isinstance(expr, Const):
                    value = evaluate(expr, lambda name: self._meant(device, name, sound, state))
        return not off and (on or value)

    def _meant(self, device: str, name: str, sound: dict[str, bool], state: State) -> bool:
        return sound.get(f"{device}.{name}", state[self.names.index(device)] == name)

    def _inputs(self, state: State, device: str) -> dict[str, bool]:
        sound = super()._inputs(state, device)
        found = {}
        for needed, value in sound.items():
            on, off = False, False
            for fault in self.of(device):
                if needed in fault.inputs:
                    expr = fault.inputs[needed]
                    on, off = on or expr == Const(True), off or expr == Const(False)
                    if not isinstance(expr, Const):
                        value = evaluate(expr, sound.__getitem__)  # noqa: PLW2901 - the last one counts
            found[needed] = on or (not off and value)
        return found

    def _ready(self, step: Transition, state: State, at: int) -> bool:
        names = {step.act, step.after, f"{state[at]} to {step.to}"} - {None}
        blocked = any(names & set(fault.blocks) for fault in self.of(self.names[at]))
        return not blocked and super()._ready(step, state, at)


class Notes(NamedTuple):
    """Functions demanded since reset was last pressed; those after which supply-on was not pressed."""

    stopped: frozenset[str]
    unsupplied: frozenset[str]


class Node(NamedTuple):
    """A moment: the state of the devices, the notes, the faults that are there."""

    state: State
    notes: Notes
    faults: Set


class FaultJudge:
    """All worlds of a bench under at most `most` faults."""

    def __init__(self, bench: Bench, most: int) -> None:
        self.bench, self.faults = bench, every_fault(bench)
        self.functions = bench.required.functions
        self.sound = World(bench)
        self.kind = dict(zip(self.sound.names, self.sound.kinds, strict=True))
        self.sets = [frozenset(one) for n in range(most + 1) for one in combinations(self.faults, n)]
        self.world = {one: FaultyWorld.__new__(FaultyWorld) for one in self.sets}
        self.restless: set[Set] = set()
        for one, world in self.world.items():
            world.present = {}
            try:
                FaultyWorld.__init__(world, bench, self.faults, one)
            except RecursionError:
                self.restless.add(one)
        self.due = cache(self.due)
        self.nodes = self._nodes()

    def _nodes(self) -> dict[Node, int]:
        """Every moment that can come, and after how many steps at the soonest."""
        blank = Notes(frozenset(), frozenset())
        met: dict[Node, int] = {}
        for one in self.sets:
            if one not in self.restless:
                start = self.world[one].start
                met[Node(start, self.note(start, blank, start), one)] = 0
        todo = deque(met)
        while todo:
            node = todo.popleft()
            for after in self._next(node):
                if after not in met:
                    met[after] = met[node] + 1
                    todo.append(after)
        return met

    def _next(self, node: Node) -> Iterator[Node]:
        for state, one in self._moved(node):
            yield Node(state, self.note(node.state, node.notes, state), one)

    def _moved(self, node: Node) -> Iterator[tuple[State, Set]]:
        try:
            yield from ((move.after, node.faults) for move in self.world[node.faults].moves(node.state))
        except RecursionError as error:
            raise AssertionError("choose a bench whose events come to rest") from error
        yield from self._arrived(node)

    def _arrived(self, node: Node) -> Iterator[tuple[State, Set]]:
        for fault in self.faults:
            grown = node.faults | {fault}
            if grown != node.faults and grown in self.world:
                yield self.world[grown].settle(node.state), grown

    def said(self, state: State, port: str) -> bool:
        """An output as the person's acts make it."""
        return self.sound.values(state)[port]

    def demand(self, state: State, name: str, *, full: bool) -> bool:
        device = self.functions[name].demand
        wanted = self.kind[device].demand
        there = evaluate(wanted, lambda output: self.said(state, f"{device}.{output}"))
        return there and not (
            full and any(self.said(state, f"{device}.{c}") for c in self.kind[device].channels)
        )

    def note(self, was: State, notes: Notes, now: State) -> Notes:
        stopped = frozenset(name for name in notes.stopped if not self.reset_by(was, now, name))
        stopped |= {name for name in self.functions if self.demand(now, name, full=True)}
        unsupplied = set()
        for name, function in self.functions.items():
            if function.supply is not None:
                button = f"{function.supply.on_by}.pressed"
                asked = self.said(now, button)
                if not self.kind[function.supply.on_by].momentary:
                    asked = asked and not self.said(was, button)
                if self.demand(now, name, full=False) or (name in notes.unsupplied and not asked):
                    unsupplied.add(name)
        return Notes(stopped, frozenset(unsupplied))

    def reset_by(self, was: State, now: State, name: str) -> bool:
        """The function's reset begins to be pressed; where it is what switches the supply on, it is pressed."""
        button = f"{self.functions[name].reset_by or self.bench.required.reset.by}.pressed"
        return self.said(now, button) and (supply_resets(self.bench, name) or not self.said(was, button))

    def may_turn(self, node: Node, unit: str) -> bool:
        """It is enabled, and fed, or a bus that shares its source is still charged."""
        world = self.world[node.faults]
        values, inputs = world.values(node.state), world.inputs(node.state, unit)
        charged = any(values[f"{bus}.live"] for bus in charged_beside(self.bench, self.kind, unit))
        return values.get(f"{unit}.enabled", False) and (inputs.get("supply", True) or charged)

    def lost(self, node: Node) -> Iterator[tuple[str, str]]:
        """The effects that are not there in this moment, whether or not it lasts."""
        values, effects = self.world[node.faults].values(node.state), self.bench.required.effects
        for name, function in self.functions.items():
            stopped, full = name in node.notes.stopped, self.demand(node.state, name, full=True)
            for unit in effects.torque_off.of if stopped and "torque_off" in function.effects else ():
                if self.may_turn(node, unit) or values[f"{unit}.torque"]:
                    yield name, "torque_off"
            if (
                "references_zero" in function.effects
                and stopped
                and values[f"{effects.references_zero.of}.set"]
            ):
                yield name, "references_zero"
            if "contactor_open" in function.effects and full and values[f"{effects.contactor_open.of}.main"]:
                yield name, "contactor_open"
            if "bus_discharged" in function.effects and full and values[f"{effects.bus_discharged.of}.live"]:
                yield name, "bus_discharged"
            if self.freed_in_danger(values, node, name):
                yield name, "locked_until_standstill"
            barred = name in node.notes.unsupplied and not self.demand(node.state, name, full=False)
            if barred and values[f"{function.supply.of}.main"]:
                yield name, "supply_stays_off"

    def freed_in_danger(self, values: dict[str, bool], node: Node, name: str) -> bool:
        """The demanding guard is unlocked while a unit makes torque or, where it must stand, the shaft turns."""
        function, stands = self.functions[name], self.bench.required.effects.standstill
        if "torque_off" not in function.effects or values.get(f"{function.demand}.locked", True):
            return False
        torque = any(values[f"{unit}.torque"] for unit in self.bench.required.effects.torque_off.of)
        if stands is None or "standstill" not in function.effects:
            return torque
        turns = not self.sound.values(node.state).get(f"{stands.of}.still", True)
        return torque or turns

    def within(self, what: tuple[str, str]) -> int | None:
        effects, effect = self.bench.required.effects, what[1]
        if effect == "locked_until_standstill":
            return 0
        if effect in {"contactor_open", "supply_stays_off"}:
            return None if effects.contactor_open is None else effects.contactor_open.within
        return None if effect == "bus_discharged" else getattr(effects, effect).within

    def due(self, node: Node) -> dict[tuple[str, str], tuple[int, Node]]:
        """The late reactions that are to come: how long each takes, and to which moment it leads."""
        return {
            (move.device, move.trigger): (
                move.delay_ns,
                Node(move.after, self.note(node.state, node.notes, move.after), node.faults),
            )
            for move in self.world[node.faults].moves(node.state)
            if move.delay_ns is not None
        }

    def lasts(self, node: Node, what: tuple[str, str]) -> bool:
        """No order of late reactions, each as late as it may come, ends the loss in time.

        Each has its time from the moment when it begins to be due, and keeps it for as long as it is due.
        """
        limit = self.within(what)
        counts = 0 if limit is None else 1  # without a limit nobody looks at the clock
        clocks = frozenset((key, delay * counts) for key, (delay, _) in self.due(node).items())
        met, todo = set[object](), [(node, 0, clocks)]
        while todo:
            if (here := todo.pop()) in met:
                continue
            met.add(here)
            moment, now, clocks = here
            for key, (_, after) in self.due(moment).items():
                at = max(now, dict(clocks)[key])
                if limit is not None and at > limit:
                    continue
                if what not in set(self.lost(after)):
                    return False
                going = {one: end for one, end in clocks if one != key}
                ends = {
                    one: going.get(one, at + delay * counts) for one, (delay, _) in self.due(after).items()
                }
                todo.append((after, at, frozenset(ends.items())))
        return True

    def soonest(self) -> dict[tuple[Set, str, str], int]:
        """For each fault set and effect that it loses: after how many steps at the soonest.

        What lasts is told first; only else what comes later after its demand than allowed.
        """
        found: dict[tuple[Set, str, str], int] = {}
        brief: set[tuple[Set, str, str]] = set()
        for node, steps in sorted(self.nodes.items(), key=lambda one: one[1]):
            for what in set(self.lost(node)):
                if (node.faults, *what) not in found:
                    if self.lasts(node, what):
                        found[node.faults, *what] = steps
                    elif self.within(what):
                        brief.add((node.faults, *what))
        for faults, *what in sorted(brief - found.keys(), key=str):
            if (steps := soonest_late(self, faults, tuple(what))) is not None:
                found[faults, *what] = steps
        return found

    def timed(self, node: Node, what: tuple[str, str]) -> bool:
        """The demand whose time counts for the effect goes on."""
        name, effect = what
        if effect in {"torque_off", "references_zero"}:
            return name in node.notes.stopped
        if effect == "supply_stays_off":
            return name in node.notes.unsupplied
        return self.demand(node.state, name, full=True)

    def anew(self, was: Node, now: Node, what: tuple[str, str]) -> bool:
        """The time counts again from here: another fault, or another demand that the device does not show yet."""
        if was.faults != now.faults:
            return True
        if what[1] not in {"torque_off", "references_zero"}:
            return False
        name = what[0]
        begins = self.demand(now.state, name, full=True) and not self.demand(was.state, name, full=True)
        return begins and name not in self.seen(now.state)

    def seen(self, state: State) -> frozenset[str]:
        """The functions whose demand their devices show, on the sound bench."""
        return Judge(self.sound).seen(state)

    def after(self, node: Node) -> Iterator[Node]:
        """What can follow, a fault that arrives among it."""
        return self._next(node)

    def soonest_start(self) -> dict[tuple[Set, str], int]:
        """For each fault set and unit that begins to make torque unasked: after how many steps at the soonest."""
        found: dict[tuple[Set, str], int] = {}
        for node, steps in sorted(self.nodes.items(), key=lambda one: one[1]):
            for actor, after, faults in self._events(node):
                for unit in self.bench.required.effects.torque_off.of:
                    port = f"{unit}.torque"
                    begins = self.said(after, port) and not self.said(node.state, port)
                    if begins and not self.meant(actor, after):
                        found.setdefault((faults, unit), steps + 1)
        return found

    def _events(self, node: Node) -> Iterator[tuple[str | None, State, Set]]:
        """Who acts (nobody, for late reactions and faults), and what comes of it."""
        for move in self.world[node.faults].moves(node.state):
            yield move.device if move.delay_ns is None else None, move.after, node.faults
        for state, faults in self._arrived(node):
            yield None, state, faults

    def meant(self, actor: str | None, after: State) -> bool:
        """A person acts on something that is there to start, or holds it."""
        supplies = {one.supply.on_by for one in self.functions.values() if one.supply is not None}
        stops = {name for name, kind in self.kind.items() if kind.demand is not None}
        barred = {self.bench.required.reset.by, *stops, *supplies}
        barred |= set() if self.bench.required.modes is None else {self.bench.required.modes.by}
        buttons = [name for name, kind in self.kind.items() if kind.momentary and name not in barred]
        held = any(self.sound.values(after).get(f"{button}.pressed", False) for button in buttons)
        return held or (actor is not None and actor not in barred)
