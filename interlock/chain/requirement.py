"""What the requirement speaks of, as terms: demands, torque, reset, supply, acts. Nothing here looks at the wiring."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from interlock.bench import Kind
from interlock.bench.expr import evaluate
from interlock.chain import ir
from interlock.chain.compile import substitute
from interlock.chain.demands import Demands

__all__ = ["Requirement"]


@dataclass(frozen=True, slots=True)
class Requirement(Demands):
    """A bench's required section, its devices' outputs as their kinds state them, and the acts on them."""

    def not_meant_to_start(self) -> set[str]:
        """Stop devices, resets, supply-on and the mode selector: operating them must start nothing.

        So is a device of a kind that can demand a stop, such as a thermal switch, though no function names it. A
        hold-to-run button is none of them: who presses it means to start.
        """
        functions, modes = self.functions, self.bench.required.modes
        supply_on = {one.supply.on_by for one in functions.values() if one.supply is not None}
        kinds = {name: self.kind(name) for name in self.bench.devices}
        stops = {name for name, kind in kinds.items() if kind.demand is not None and not kind.starts}
        resets = {self.reset_of(one) for one in functions if self.needs_reset(one)}
        resets |= set() if modes is None or modes.change != "stops" else {self.reset_of(None)}
        return {*resets, *stops, *supply_on, *(() if modes is None else (modes.by,))}

    def held(self) -> ir.Term:
        """A person holds a button that falls back by itself, other than those of `not_meant_to_start`.

        A device that starts and has no output `pressed`, such as a two-hand control, is held while it demands nothing.
        """
        return ir.any_of(self._pressed(button) for button in self.start_buttons())

    def start_buttons(self) -> list[str]:
        """Whatever falls back by itself and is none of `not_meant_to_start`."""
        aside = self.not_meant_to_start()
        return [one for one in self.bench.devices if one not in aside and self.kind(one).momentary]

    def _pressed(self, button: str) -> ir.Term:
        kind = self.kind(button)
        if "pressed" in kind.outputs:
            return self.output(button, "pressed")
        if not kind.starts or kind.demand is None:
            return ir.FALSE
        return ir.no(substitute(kind.demand, lambda name: self.output(button, name)))

    def events_of(self, device: str) -> ir.Term:
        """The event is an act on the device or a late reaction of it."""
        return self._by(lambda event: event.device == device)

    def acts_on(self, devices: Iterable[str]) -> ir.Term:
        """The event is an act of a person on one of these devices."""
        wanted = set(devices)
        return self._by(lambda event: event.kind is ir.EventKind.ACT and event.device in wanted)

    def stopping(self, devices: Iterable[str]) -> ir.Term:
        """The event is an act on one of these devices that demands the stop before it or after it, in any mode."""
        return ir.any_of(
            ir.all_of([self.acts_on([one]), ir.any_of([asked, ir.was(asked)])])
            for one in devices
            for asked in [self.asked(one)]
        )

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
