"""Safety functions as terms: their demands and modes, the units that they stop, the buttons that reset them."""

from collections.abc import Mapping
from dataclasses import dataclass

from interlock.bench import Function, Kind
from interlock.bench.expr import evaluate, names
from interlock.chain import ir
from interlock.chain.compile import substitute
from interlock.chain.ports import Ports

__all__ = ["Demands"]


@dataclass(frozen=True, slots=True)
class Demands(Ports):
    """What a bench's required section says of its functions, over the outputs of its devices."""

    @property
    def functions(self) -> Mapping[str, Function]:
        """The safety functions by id."""
        return self.bench.required.functions

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

    def demand(self, function: str) -> ir.Term:
        """The function's demand is present, in a mode in which it is required."""
        return ir.all_of([self.applies(function), self.asked(self.functions[function].demand)])

    def asked(self, device: str) -> ir.Term:
        """The device demands the stop, in whatever mode."""
        wanted = self.kind(device).demand
        return ir.FALSE if wanted is None else substitute(wanted, lambda name: self.output(device, name))

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
        return ir.any_of(change(one) for one in each for change in (ir.rises, ir.falls))

    def begins(self, function: str, while_: ir.Term, words: str) -> tuple[str, ir.Term]:
        """The demand begins while the term holds, in words too; at any time if a lock lets it begin only later."""
        device = self.functions[function].demand
        said, begins = f"the {self.name(device)} demands the stop", ir.rises(self.demand(function))
        if self.kind(device).locked_at_first:
            return said, begins
        return f"{said} while {words}", ir.all_of([ir.was(while_), begins])

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

    def braked_by(self, function: str) -> list[str]:
        """The units that a function of category 1 stops and that can brake."""
        if self.functions[function].stop_category != 1:
            return []
        return [unit for unit in self.units_of(function) if self.kind(unit).braking is not None]

    def reset_of(self, function: str | None) -> str:
        """The button that resets the function; without one, that of the bench."""
        own = None if function is None else self.functions[function].reset_by
        return self.bench.required.reset.by if own is None else own

    def needs_reset(self, function: str) -> bool:
        """After a stop by the function somebody must reset."""
        return self.functions[function].without_reset is None

    def reset_by_supply(self, function: str) -> bool:
        """What resets the function is the button that switches its supply on: that one acts when it is pressed."""
        supply = self.functions[function].supply
        return supply is not None and self.needs_reset(function) and self.reset_of(function) == supply.on_by

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


def _not_yet_shown(kind: Kind) -> set[str]:
    """States in which the device is demanded already, while its contacts are still as without a demand.

    By its kind's declaration alone: a late reaction leads on to another state of demand, and all outputs but those
    that the demand is told by are as in some state without demand. That is a sensor's time of response.
    """
    if kind.demand is None:
        return set()
    told_by = names(kind.demand)
    outputs = {state: kind.shown_in(state) for state in kind.states}
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
