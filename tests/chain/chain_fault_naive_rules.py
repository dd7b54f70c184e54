"""The second opinion on rules beside the functions' effects: units that must rest, and what a stop of category 1 owes.

Written from what a bench's file means to people, over the worlds of `chain_fault_naive_zones`. A rule is told by its
name, the function or mode that it is of, and the unit.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from chain_fault_naive import Node, Notes, Set
from chain_fault_naive_zones import ZonedFaultJudge
from chain_naive import State, World
from chain_naive_schedule import played

from interlock.bench.expr import evaluate

Rule = tuple[str, str, str]
CHANGED = "the mode was changed"


@dataclass
class Under:
    """The bench under one fault set, to be played with a stopwatch."""

    judge: "RuleFaultJudge"
    world: World

    def torque(self, state: State, unit: str) -> bool:
        return self.world.values(state)[f"{unit}.torque"]

    def brakes(self, state: State, unit: str) -> bool:
        at = self.judge.sound.names.index(unit)
        return evaluate(self.judge.kind[unit].braking, state[at].__eq__)


class RuleFaultJudge(ZonedFaultJudge):
    """All worlds of a bench under at most `most` faults; looked at are rules alone."""

    def lost(self, node: Node) -> Iterator[Rule]:
        """The rules about states that are broken in this moment, whether or not it lasts."""
        world = self.world[node.faults]
        for name, unit in self.braked():
            kind, inputs = self.kind[unit], world.inputs(node.state, unit)
            needed = [*kind.off_channels, *(["supply"] if "supply" in kind.inputs else [])]
            on = bool(kind.off_channels) and all(inputs[one] for one in needed)
            if on and self.demand(node.state, name, full=True):
                yield "power_removed", name, unit
        modes = self.bench.required.modes
        for mode, how in {} if modes is None else modes.each.items():
            here = evaluate(how.selected, lambda port: self.said(node.state, port))
            working = self.bench.required.effects.torque_off.of if how.units is None else how.units
            for unit in self.bench.required.effects.torque_off.of:
                torque = here and world.values(node.state)[f"{unit}.torque"]
                if torque and unit not in working:
                    yield "idle_in_mode", mode, unit
                if torque and unit in working and self.must_be_held(node, mode, unit):
                    yield "held_in_mode", mode, unit
        for unit in self.bench.required.effects.torque_off.of if CHANGED in node.notes.stopped else ():
            values = world.values(node.state)
            if values[f"{unit}.torque"] or self.may(node, unit, values[f"{unit}.enabled"]):
                yield "mode_change_stops", modes.by, unit

    def note(self, was: State, notes: Notes, now: State) -> Notes:
        """Also whether the mode was changed and the reset of the bench not pressed since."""
        noted, modes = super().note(was, notes, now), self.bench.required.modes
        if modes is None or modes.change != "stops":
            return noted
        port = f"{self.bench.required.reset.by}.pressed"
        pressed = self.said(now, port) and not self.said(was, port)
        changed = any(self.in_mode(was, mode) != self.in_mode(now, mode) for mode in modes.each)
        if changed or (CHANGED in notes.stopped and not pressed):
            return Notes(noted.stopped | {CHANGED}, noted.unsupplied)
        return noted

    def in_mode(self, state: State, mode: str) -> bool:
        selected = self.bench.required.modes.each[mode].selected
        return evaluate(selected, lambda port: self.said(state, port))

    def must_be_held(self, node: Node, mode: str, unit: str) -> bool:
        """In the mode some stop of the unit is not required, and none of the devices to hold for it is held."""
        suspended, held = False, False
        for name, function in self.functions.items():
            if unit in self.units(name):
                required, momentary = (
                    mode in (function.in_modes or [mode]),
                    self.kind[function.demand].momentary,
                )
                suspended |= not required and not momentary
                held |= required and momentary and not self.demand(node.state, name, full=False)
        return suspended and not held

    def braked(self) -> Iterator[tuple[str, str]]:
        """Each function of category 1 with each of its units that can brake."""
        for name, function in self.functions.items():
            for unit in self.units(name):
                if function.stop_category == 1 and self.kind[unit].braking is not None:
                    yield name, unit

    def within(self, what: Rule) -> int:
        common = self.bench.required.effects.torque_off
        limit = common.limits.get(what[2], common.within)
        return self.functions[what[1]].limits.get(what[2], limit) if what[0] == "power_removed" else limit

    def timed(self, node: Node, what: Rule) -> bool:
        """The demand, or the mode, since which the time counts."""
        rule, of, _ = what
        if rule == "power_removed":
            return self.demand(node.state, of, full=True)
        if rule == "mode_change_stops":
            return CHANGED in node.notes.stopped
        held = rule == "held_in_mode"
        return self.in_mode(node.state, of) and (not held or self.must_be_held(node, of, what[2]))

    def anew(self, was: Node, now: Node, what: Rule) -> bool:
        return was.faults != now.faults

    def soonest_unbraked(self) -> dict[tuple[Set, str, str], int]:
        """For each fault set, function and unit: after how many steps at the soonest its torque goes unbraked."""
        found: dict[tuple[Set, str, str], int] = {}
        for node, steps in sorted(self.nodes.items(), key=lambda one: one[1]):
            for move in self.world[node.faults].moves(node.state):
                for name, unit in self.braked():
                    late = move.delay_ns is not None
                    by_device = not late and move.device == self.functions[name].demand
                    asked = self.demand(move.after, name, full=late)
                    if asked and (late or by_device) and self.coasts(node.state, move.after, unit):
                        found.setdefault((node.faults, name, unit), steps + 1)
        return found

    def coasts(self, was: State, now: State, unit: str) -> bool:
        """Its torque goes, and it did not brake before."""
        port, at = f"{unit}.torque", self.sound.names.index(unit)
        braking = evaluate(self.kind[unit].braking, was[at].__eq__)
        return self.said(was, port) and not self.said(now, port) and not braking

    def soonest_cut(self) -> dict[tuple[Set, str, str], int]:
        """For sets of one fault at most: after how many steps at the soonest a ramp is cut short by the stated times.

        Not where the torque would have gone without the stop as well: then the fault has stopped the unit.
        """
        found: dict[tuple[Set, str, str], int] = {}
        for node, steps in self.nodes.items() if any(self.braked()) else ():
            under = Under(self, self.world[node.faults])
            for move in under.world.moves(node.state) if len(node.faults) <= 1 else ():
                for name, unit in self.braked():
                    begun = under.brakes(move.after, unit) and not under.brakes(node.state, unit)
                    if not begun or not self.demand(move.after, name, full=False):
                        continue
                    cut = played(under, move.after, unit)
                    if cut is not None and played(under, node.state, unit, anyhow=True) is None:
                        key = node.faults, name, unit
                        found[key] = min(found.get(key, steps + 1 + cut), steps + 1 + cut)
        return found

    def soonest_broken(self) -> dict[tuple[Set, Rule], int]:
        """Each rule of either sort, for each fault set that breaks it."""
        found = {(faults, tuple(what)): at for (faults, *what), at in self.soonest().items()}
        events = self.soonest_unbraked().items()
        found |= {(faults, ("braking", name, unit)): at for (faults, name, unit), at in events}
        cut = self.soonest_cut().items()
        return found | {(faults, ("ramp_completed", name, unit)): at for (faults, name, unit), at in cut}
