"""The devices of a bench as terms: outputs as their kinds state them, torque, and the permission to make it."""

from collections.abc import Iterable
from dataclasses import dataclass

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.bridged import buses_beside, is_bridged
from interlock.bench.expr import names
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

    def enabled(self, unit: str) -> ir.Term:
        """The torque-off inputs let the unit make torque: its enable output if its kind has one, else its torque."""
        return self.output(unit, "enabled" if "enabled" in self.kind(unit).outputs else "torque")

    def permit(self, unit: str) -> ir.Term:
        """The unit may make torque: it is enabled, and it is fed or what feeds it still holds a charge."""
        return ir.all_of([self.enabled(unit), ir.any_of([self.supplied(unit), self.charged(unit)])])

    def released(self, unit: str) -> ir.Term:
        """It is enabled; if nothing but its supply can take its torque away, it is fed as well."""
        return self.permit(unit) if is_bridged(self.bench, unit) else self.enabled(unit)

    def in_series(self, contactor: str) -> list[str]:
        """The contactors that take the same supply, as required; the contactor itself among them."""
        stated = self.bench.required.effects.contactor_open
        every = [] if stated is None else [stated.of, *stated.in_series]
        return every if contactor in every else [contactor]

    def supply_name(self, contactor: str) -> str:
        """What people call what takes the supply."""
        every = self.in_series(contactor)
        called = " and ".join(map(self.name, every))
        return called if len(every) == 1 else f"series of {called}"

    def closed(self, contactor: str) -> ir.Term:
        """The contactor is closed; one of several in series: all are, or one feeds something past the others."""
        every = self.in_series(contactor)
        mains = {f"{one}.main": self.output(one, "main") for one in every}
        if len(every) == 1:
            return ir.all_of(mains.values())

        def opened(port: str) -> ir.Term:
            return ir.FALSE if port in mains else self.compiled.outputs[port]

        fed = (
            ir.all_of([self.compiled.inputs[port], ir.no(substitute(wire, opened))])
            for port, wire in self.bench.wiring.items()
            if mains.keys() & names(wire) and port.partition(".")[0] not in every
        )
        return ir.any_of([ir.all_of(mains.values()), *fed])

    def supplied(self, unit: str) -> ir.Term:
        """The unit is fed; one whose kind knows no supply always is."""
        return self.input(unit, "supply") if "supply" in self.kind(unit).inputs else ir.TRUE

    def charged(self, unit: str) -> ir.Term:
        """A bus holds a charge that hangs on what feeds the unit, though the unit is not wired to the bus itself."""
        return ir.any_of(self.output(bus, "live") for bus in buses_beside(self.bench, unit))

    def straight(self, device: str, unit: str) -> bool:
        """A contact of the device stands in series in the line to each torque-off input of the unit."""

        def opened(port: str) -> ir.Term:
            return ir.FALSE if port.partition(".")[0] == device else self.compiled.outputs[port]

        lines = (self.bench.wiring.get(f"{unit}.{one}") for one in self.kind(unit).off_channels)
        return all(line is not None and substitute(line, opened) == ir.FALSE for line in lines)

    def permitted(self, while_: ir.Term, units: Iterable[str] | None = None) -> dict[str, ir.Term]:
        """While the term holds, the unit (of those) may make or makes torque, by the unit's name."""
        return {
            self.name(unit): ir.all_of([while_, ir.any_of([self.permit(unit), self.torque(unit)])])
            for unit in (self.units if units is None else units)
        }
