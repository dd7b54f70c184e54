"""What the requirement speaks of, as terms: demands, torque, reset, supply. Nothing here looks at the wiring."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from interlock.bench import Bench, Function, Kind, kinds_of
from interlock.bench.expr import Const, evaluate, names
from interlock.chain import ir
from interlock.chain.compile import Compiled, state_term, substitute

__all__ = ["Requirement", "falls", "rises"]


@dataclass(frozen=True, slots=True)
class Requirement:
    """A bench's required section, its devices' outputs as their kinds state them, and the acts on them."""

    bench: Bench
    compiled: Compiled

    @property
    def functions(self) -> Mapping[str, Function]:
        """The safety functions by id."""
        return self.bench.required.functions

    @property
    def units(self) -> list[str]:
        """The devices whose torque is to be taken away."""
        return self.bench.required.effects.torque_off.of

    def units_of(self, function: str) -> list[str]:
        """The units whose torque the function takes away."""
        return self.bench.required.units_of(function)

    def by_limit(self, function: str) -> list[tuple[str | None, list[str], int]]:
        """The function's units that share a limit for torque off, in ns; with the one unit if they do not."""
        units = self.units_of(function)
        limits = [self.limit_ns(function, unit) for unit in units]
        if len(set(limits)) == 1:
            return [(None, units, limits[0])]
        return [(unit, [unit], limit) for unit, limit in zip(units, limits, strict=True)]

    def limit_ns(self, function: str | None, unit: str) -> int:
        """In which time the function, or any stop, takes the torque of the unit away."""
        return self.bench.required.torque_limit_ns(function, unit)

    def name(self, device: str) -> str:
        """What people call a device."""
        return self.bench.devices[device].name

    def kind(self, device: str) -> Kind:
        """The declaration of a device's kind."""
        return kinds_of(self.bench)[self.bench.devices[device].kind]

    def output(self, device: str, output: str) -> ir.Term:
        """An output of a device."""
        return self.compiled.outputs[f"{device}.{output}"]

    def input(self, device: str, needed: str) -> ir.Term:
        """What reaches an input of a device: only to say whether it is switched off, never what should be."""
        return self.compiled.inputs[f"{device}.{needed}"]

    def demand(self, function: str) -> ir.Term:
        """The function's demand is present, in a mode in which it is required."""
        device = self.functions[function].demand
        wanted = self.kind(device).demand
        if wanted is None:
            return ir.FALSE
        asked = substitute(wanted, lambda name: self.output(device, name))
        return ir.all_of([self.applies(function), asked])

    def shown_demand(self, function: str) -> ir.Term:
        """The demand is present, and its device has had the time to show it: only that can bar a reset."""
        device = self.functions[function].demand
        kind = self.kind(device)
        shown = frozenset(state for state in kind.states if state not in _not_yet_shown(kind))
        return ir.all_of(
            [self.demand(function), ir.Now(device, shown) if len(shown) < len(kind.states) else ir.TRUE]
        )

    def selected(self, mode: str) -> ir.Term:
        """The mode is selected."""
        modes = self.bench.required.modes
        if modes is None:
            return ir.FALSE
        return substitute(modes.each[mode].selected, self.compiled.outputs.__getitem__)

    def applies(self, function: str) -> ir.Term:
        """A mode is selected in which the function is required, or no mode at all: then every function is."""
        modes, own = self.bench.required.modes, self.functions[function].in_modes
        if modes is None or own is None:
            return ir.TRUE
        others = [mode for mode in modes.each if mode not in own]
        suspended = ir.any_of(self.selected(mode) for mode in others)
        return ir.any_of([ir.no(suspended), *(self.selected(mode) for mode in own)])

    def modes_of(self, function: str) -> list[str]:
        """The modes in which the function is required; none if the bench has no modes."""
        modes, own = self.bench.required.modes, self.functions[function].in_modes
        return [] if modes is None else [mode for mode in modes.each if own is None or mode in own]

    def mode_changes(self) -> ir.Term:
        """The event selects or leaves a mode."""
        modes = self.bench.required.modes
        each = [] if modes is None else [self.selected(mode) for mode in modes.each]
        return ir.any_of(change(one) for one in each for change in (rises, falls))

    def begins(self, function: str, while_: ir.Term, words: str) -> tuple[str, ir.Term]:
        """The demand begins while the term holds, in words too; at any time if a lock lets it begin only later."""
        device = self.functions[function].demand
        said, begins = f"the {self.name(device)} demands the stop", rises(self.demand(function))
        if self._locked_before(self.kind(device)):
            return said, begins
        return f"{said} while {words}", ir.all_of([ir.was(while_), begins])

    def _locked_before(self, kind: Kind) -> bool:
        """A device of the kind demands nothing before its lock is free."""
        if kind.demand is None or "locked" not in kind.outputs:
            return False
        shown = [
            {one: evaluate(term, state.__eq__) for one, term in kind.outputs.items()} for state in kind.states
        ]
        return not any(one["locked"] and evaluate(kind.demand, one.__getitem__) for one in shown)

    def any_demand(self) -> ir.Term:
        """The demand of some function is present."""
        return ir.any_of(self.demand(one) for one in self.functions)

    def barred(self, function: str | None) -> ir.Term:
        """A demand is shown under which the function's reset does nothing."""
        bars = self.bars(function)
        return ir.any_of(self.shown_demand(one) for one in self.functions if one in bars)

    def stops_of(self, unit: str) -> list[tuple[int, list[str]]]:
        """The functions that need a reset and take the unit's torque away, together with those of the same limit."""
        groups: dict[int, list[str]] = {}
        for name, function in self.functions.items():
            if "torque_off" in function.effects and self.needs_reset(name) and unit in self.units_of(name):
                groups.setdefault(self.limit_ns(name, unit), []).append(name)
        return list(groups.items())

    def torque(self, unit: str) -> ir.Term:
        """The unit makes torque."""
        return self.output(unit, "torque")

    def braking(self, unit: str) -> ir.Term:
        """The unit brakes with its torque, by the declaration of its kind."""
        declared = self.kind(unit).braking
        return ir.FALSE if declared is None else state_term(unit, self.kind(unit), declared)

    def permit(self, unit: str) -> ir.Term:
        """The unit may make torque: its enable output if its kind has one, else its torque.

        A unit whose torque-off inputs are all bridged is enabled for ever: it may make torque while it is fed.
        """
        if not self._has(unit, "enabled"):
            return self.output(unit, "torque")
        enabled = self.output(unit, "enabled")
        return ir.all_of([enabled, self.input(unit, "supply")]) if self.bridged(unit) else enabled

    def bridged(self, unit: str) -> bool:
        """No wire reaches a torque-off input of the unit, so that only its supply can take the torque away."""
        inputs = self.kind(unit).off_channels
        wired = (self.bench.wiring.get(f"{unit}.{one}") for one in inputs)
        return (
            bool(inputs) and "supply" in self.kind(unit).inputs and all(one == Const(True) for one in wired)
        )

    def permitted(self, while_: ir.Term, units: Iterable[str] | None = None) -> dict[str, ir.Term]:
        """While the term holds, the unit (of those) may make or makes torque, by the unit's name."""
        return {
            self.name(unit): ir.all_of([while_, ir.any_of([self.permit(unit), self.torque(unit)])])
            for unit in (self.units if units is None else units)
        }

    def reset_of(self, function: str | None) -> str:
        """The button that resets the function; without one, that of the bench."""
        own = None if function is None else self.functions[function].reset_by
        return self.bench.required.reset.by if own is None else own

    def needs_reset(self, function: str) -> bool:
        """After a stop by the function somebody must reset."""
        return self.functions[function].without_reset is None

    def bars(self, function: str | None) -> frozenset[str]:
        """The functions under whose demand the function's reset does nothing.

        Those that are reset by the same button and stop all of its units: what stops only some of them keeps
        those off by itself.
        """
        mine = set(self.units if function is None else self.units_of(function))
        return frozenset(
            one
            for one in self.functions
            if self.needs_reset(one)
            and self.reset_of(one) == self.reset_of(function)
            and mine <= set(self.units_of(one))
        )

    def reset(self, function: str | None = None) -> ir.Term:
        """The reset button (of the function) is pressed."""
        return self.output(self.reset_of(function), "pressed")

    def not_meant_to_start(self) -> set[str]:
        """Stop devices, resets, supply-on and the mode selector: operating them must start nothing.

        A hold-to-run button is none of them: who presses it means to start.
        """
        functions, modes = self.functions, self.bench.required.modes
        supply_on = {one.supply.on_by for one in functions.values() if one.supply is not None}
        stops = {one.demand for one in functions.values() if not self.kind(one.demand).starts}
        resets = {self.reset_of(one) for one in functions if self.needs_reset(one)}
        resets |= set() if modes is None or modes.change != "stops" else {self.reset_of(None)}
        return {*resets, *stops, *supply_on, *(() if modes is None else (modes.by,))}

    def held(self) -> ir.Term:
        """A person holds a button that falls back by itself, other than those of `not_meant_to_start`.

        A device that starts and has no output `pressed`, such as a two-hand control, is held while it demands nothing.
        """
        free = (one for one in self.bench.devices if one not in self.not_meant_to_start())
        return ir.any_of(self._pressed(button) for button in free if self.kind(button).momentary)

    def _pressed(self, button: str) -> ir.Term:
        kind = self.kind(button)
        if "pressed" in kind.outputs:
            return self.output(button, "pressed")
        if not kind.starts or kind.demand is None:
            return ir.FALSE
        return ir.no(substitute(kind.demand, lambda name: self.output(button, name)))

    def _has(self, device: str, output: str) -> bool:
        return output in self.kind(device).outputs

    def events_of(self, device: str) -> ir.Term:
        """The event is an act on the device or a late reaction of it."""
        return self._by(lambda event: event.device == device)

    def acts_on(self, devices: Iterable[str]) -> ir.Term:
        """The event is an act of a person on one of these devices."""
        wanted = set(devices)
        return self._by(lambda event: event.kind is ir.EventKind.ACT and event.device in wanted)

    def acts_elsewhere(self, devices: Iterable[str]) -> ir.Term:
        """The event is an act of a person on a device other than these."""
        barred = set(devices)
        return self._by(lambda event: event.kind is ir.EventKind.ACT and event.device not in barred)

    def starts(self, unit: str) -> ir.Term:
        """The event is an act of a person that is meant to start the unit, or the unit's own run-up after one.

        An act on the unit itself counts only if it leads to torque by the declaration of its kind: to acknowledge
        a trip is no start. An act on any other device counts, unless it is one of `not_meant_to_start`.
        """
        barred, (torque, run_up) = self.not_meant_to_start(), _starting(self.kind(unit))

        def wanted(event: ir.Event) -> bool:
            if event.kind is ir.EventKind.ACT and event.device != unit:
                return event.device not in barred
            if event.device != unit:
                return False
            to = torque | run_up if event.kind is ir.EventKind.ACT else torque
            steps = [step for step in event.steps if step.to in to]
            return bool(steps) and (
                event.kind is ir.EventKind.ACT or all(step.sources <= run_up for step in steps)
            )

        return self._by(wanted)

    def late(self, devices: Iterable[str] | None = None) -> ir.Term:
        """The event is a late reaction of one of these devices, or of any."""
        wanted = set(self.bench.devices if devices is None else devices)
        return self._by(lambda event: event.kind is ir.EventKind.LATE and event.device in wanted)

    def _by(self, wanted: Callable[[ir.Event], bool]) -> ir.Term:
        chosen = (number for number, event in enumerate(self.compiled.chain.events) if wanted(event))
        return ir.By(frozenset(chosen))


def _starting(kind: Kind) -> tuple[frozenset[str], frozenset[str]]:
    """The states with torque; and those without it that only acts lead into and a late reaction leads on from to it."""
    torque = _with_torque(kind)
    goes_on = {
        state
        for step in kind.transitions
        if step.after is not None and step.to in torque
        for state in step.source
    }
    by_itself = {step.to for step in kind.transitions if step.act is None}
    return torque, frozenset(goes_on - torque - by_itself - {kind.start})


def _with_torque(kind: Kind) -> frozenset[str]:
    return frozenset(state for state in kind.states if evaluate(kind.outputs["torque"], state.__eq__))


def _not_yet_shown(kind: Kind) -> set[str]:
    """States in which the device is demanded already, while its contacts are still as without a demand.

    By its kind's declaration alone: a late reaction leads on to another state of demand, and all outputs but those
    that the demand is told by are as in some state without demand. That is a sensor's time of response.
    """
    if kind.demand is None:
        return set()
    told_by = names(kind.demand)
    outputs = {
        state: {one: evaluate(term, state.__eq__) for one, term in kind.outputs.items()}
        for state in kind.states
    }
    demanded = {state for state, shown in outputs.items() if evaluate(kind.demand, shown.__getitem__)}

    def contacts(state: str) -> dict[str, bool]:
        return {one: value for one, value in outputs[state].items() if one not in told_by}

    calm = [contacts(state) for state in kind.states if state not in demanded]
    going_on = {
        state
        for step in kind.transitions
        if step.after is not None and step.to in demanded
        for state in step.source
    }
    return {state for state in demanded & going_on if contacts(state) and contacts(state) in calm}


def rises(term: ir.Term) -> ir.Term:
    """The event makes the term true."""
    return ir.all_of([ir.no(ir.was(term)), term])


def falls(term: ir.Term) -> ir.Term:
    """The event makes the term false."""
    return ir.all_of([ir.was(term), ir.no(term)])
