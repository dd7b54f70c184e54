"""The devices of a bench as terms: outputs as their kinds state them, torque, and the permission to make it."""

from collections.abc import Iterable
from dataclasses import dataclass

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.expr import Const
from interlock.chain import ir
from interlock.chain.compile import Compiled, state_term, substitute

__all__ = ["Ports"]


@dataclass(frozen=True, slots=True)
class Ports:
    """A bench's devices, and what each does by the declaration of its kind."""

    bench: Bench
    compiled: Compiled

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

    def straight(self, device: str, unit: str) -> bool:
        """A contact of the device stands in series in the line to each torque-off input of the unit."""

        def opened(port: str) -> ir.Term:
            return ir.FALSE if port.partition(".")[0] == device else self.compiled.outputs[port]

        lines = (self.bench.wiring.get(f"{unit}.{one}") for one in self.kind(unit).off_channels)
        return all(line is not None and substitute(line, opened) == ir.FALSE for line in lines)

    def _has(self, device: str, output: str) -> bool:
        return output in self.kind(device).outputs

    def permitted(self, while_: ir.Term, units: Iterable[str] | None = None) -> dict[str, ir.Term]:
        """While the term holds, the unit (of those) may make or makes torque, by the unit's name."""
        return {
            self.name(unit): ir.all_of([while_, ir.any_of([self.permit(unit), self.torque(unit)])])
            for unit in (self.units if units is None else units)
        }
