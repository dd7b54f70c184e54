"""What the requirement speaks of, as terms: demands, torque, reset, supply. Nothing here looks at the wiring."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

from interlock.bench import Bench, Function, Kind, kinds_of
from interlock.bench.expr import evaluate
from interlock.chain import ir
from interlock.chain.compile import Compiled, substitute

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
        """The function's demand is present."""
        device = self.functions[function].demand
        wanted = self.kind(device).demand
        return ir.FALSE if wanted is None else substitute(wanted, lambda name: self.output(device, name))

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
        return ir.any_of(self.demand(function) for function in self.functions)

    def torque(self, unit: str) -> ir.Term:
        """The unit makes torque."""
        return self.output(unit, "torque")

    def permit(self, unit: str) -> ir.Term:
        """The unit may make torque: its enable output if its kind has one, else its torque."""
        return self.output(unit, "enabled" if self._has(unit, "enabled") else "torque")

    def permitted(self, while_: ir.Term) -> dict[str, ir.Term]:
        """While the term holds, the unit may make or makes torque, by the unit's name."""
        return {
            self.name(unit): ir.all_of([while_, ir.any_of([self.permit(unit), self.torque(unit)])])
            for unit in self.units
        }

    def reset(self) -> ir.Term:
        """The reset button is pressed."""
        return self.output(self.bench.required.reset.by, "pressed")

    def not_meant_to_start(self) -> set[str]:
        """The stop devices, reset and supply-on: operating them must start nothing."""
        functions = self.functions.values()
        supply_on = {function.supply.on_by for function in functions if function.supply is not None}
        return {self.bench.required.reset.by, *(function.demand for function in functions), *supply_on}

    def held(self) -> ir.Term:
        """A person holds a button that falls back by itself, other than those of `not_meant_to_start`."""
        buttons = [
            device
            for device in self.bench.devices
            if self.kind(device).momentary and device not in self.not_meant_to_start()
        ]
        return ir.any_of(self.output(button, "pressed") for button in buttons if self._has(button, "pressed"))

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

    def late(self, devices: Iterable[str] | None = None) -> ir.Term:
        """The event is a late reaction of one of these devices, or of any."""
        wanted = set(self.bench.devices if devices is None else devices)
        return self._by(lambda event: event.kind is ir.EventKind.LATE and event.device in wanted)

    def _by(self, wanted: Callable[[ir.Event], bool]) -> ir.Term:
        chosen = (number for number, event in enumerate(self.compiled.chain.events) if wanted(event))
        return ir.By(frozenset(chosen))


def rises(term: ir.Term) -> ir.Term:
    """The event makes the term true."""
    return ir.all_of([ir.no(ir.was(term)), term])


def falls(term: ir.Term) -> ir.Term:
    """The event makes the term false."""
    return ir.all_of([ir.was(term), ir.no(term)])
