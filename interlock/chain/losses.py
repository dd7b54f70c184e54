"""What counts as the loss of a safety function under faults.

Demands and presses are those of the person, whatever a contact makes of them; torque, supply and references
are those that are there in truth.

A device with two contacts demands when both have changed: between the two positions one contact speaks alone,
and no bench is safe there if that one fails, so such positions are judged on the sound bench only. From the
demand on torque must be barred until somebody begins to press the reset while that demand is over. (That the
press then acts on release, and starts nothing, is judged on the sound bench and as a restart; torque under the
demand of another stop device is the loss of that other function.)
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from interlock.bench import Function
from interlock.bench.expr import Name
from interlock.bench.required_models import BusDischarged
from interlock.chain import ir
from interlock.chain.bent import Faulty
from interlock.chain.by_wait import drives_too_long
from interlock.chain.compile import waits
from interlock.chain.lock_rules import danger
from interlock.chain.mode_rules import runs_idle, unheld
from interlock.chain.observers import needed, observers, supply_barred
from interlock.chain.power_rules import powered
from interlock.chain.requirement import Requirement

__all__ = [
    "Loss",
    "Rule",
    "at_rest",
    "fault_observers",
    "full_demand",
    "losses",
    "unreset_stop",
    "working",
]

_CHANGED: Final = "full latch of the modes"


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule beside the functions' effects that faults may break, for a unit.

    `idle_in_mode`: the unit makes no torque in the mode, in which it must rest. `held_in_mode`: it makes torque there
    only while a person holds a device. `mode_change_stops`: from a change of the mode to a lawful reset it is not
    permitted. `power_removed`, `braking` and `ramp_completed`: what a stop of category 1 by the function owes the unit
    beyond the torque that goes (IEC 60204-1:2016, 9.2.2). Alone these are no loss of the function: either half may fail
    as long as the other takes the torque away in time, since a ramp that is cut short falls to category 0.

    A ramp is cut short by a fault that is there when the stop is demanded. One that arrives while the ramp goes on is
    left out: what fails to safety, such as a broken wire to a torque-off input, then takes the torque at once, and no
    wiring can be without that.
    """

    id: str
    of: str  # a function, a mode, or the device that selects the modes
    unit: str

    @property
    def mode(self) -> str | None:
        """The mode that it is a rule of."""
        return self.of if self.id in {"idle_in_mode", "held_in_mode"} else None

    @property
    def function(self) -> str | None:
        """The function of category 1 that it is a rule of."""
        return self.of if self.id in {"power_removed", "braking", "ramp_completed"} else None

    def as_json(self) -> dict[str, str | None]:
        """Plain data."""
        return {"rule": self.id, "function": self.function, "mode": self.mode, "unit": self.unit}

    @property
    def key(self) -> str:
        """The rule in one word, for an example that is kept of it."""
        return f"{self.id} {self.of} {self.unit}"


@dataclass(frozen=True, slots=True)
class Loss:
    """A state that must not last: an effect is not there, or a rule is broken.

    `within_ns`: None, if late reactions of any length may end it. The limit counts from when `during` became true, and
    anew after an event by which another demand `begins`; without `during` from the state itself.
    """

    function: str  # empty for a rule of a mode
    effect: str  # or the name of the rule
    device: str  # of which something is said
    term: ir.Term
    within_ns: int | None
    complaint: str
    during: ir.Term | None = None
    begins: ir.Term = ir.FALSE
    rule: Rule | None = None
    doubts: int | None = None  # no loss by itself: the timer of this event may run out while the shaft turns


def full_demand(person: Requirement, function: str) -> ir.Term:
    """The person's demand is complete: of a device with channels, all of them have changed."""
    device = person.functions[function].demand
    channels = person.kind(device).channels
    opened = (ir.no(person.output(device, channel)) for channel in channels)
    return ir.all_of([person.demand(function), *opened])


def unreset_stop(function: str) -> ir.Term:
    """The function was fully demanded, and reset was not pressed since the demand ended."""
    return ir.Now(_latch(function), frozenset({"set"}))


def fault_observers(person: Requirement, terms: list[ir.Term]) -> tuple[ir.Observer, ...]:
    """The latches of full demands, and whatever else the terms and they speak of."""
    latches = (
        ir.Observer(
            ir.Field(_latch(name), ("clear", "set"), "clear"),
            ((full_demand(person, name), "set"), (_over(person, name), "clear")),
        )
        for name in person.functions
    )
    return (*latches, *_mode_latch(person), *needed(observers(person), terms))


def _mode_latch(person: Requirement) -> Iterator[ir.Observer]:
    """The mode was changed, and reset was not pressed since."""
    modes = person.bench.required.modes
    if modes is not None and modes.change == "stops":
        updates = ((person.mode_changes(), "set"), (ir.rises(person.reset()), "clear"))
        yield ir.Observer(ir.Field(_CHANGED, ("clear", "set"), "clear"), updates)


def _over(person: Requirement, function: str) -> ir.Term:
    """Reset is pressed; of a function that needs none, its demand is over."""
    if person.reset_by_supply(function):
        return person.reset(function)
    if person.needs_reset(function):
        return ir.rises(person.reset(function))
    return ir.no(person.demand(function))


def working(faulty: Faulty) -> ir.Term:
    """Every unit makes torque."""
    return ir.all_of(faulty.person.torque(unit) for unit in faulty.person.units)


def at_rest(faulty: Faulty) -> ir.Term:
    """No late reaction is still to come."""
    late = (event for event in faulty.chain.events if event.kind is ir.EventKind.LATE)
    return ir.all_of(ir.no(waits(event)) for event in late)


def losses(faulty: Faulty) -> tuple[Loss, ...]:
    """Every way in which a function may be lost, by its effects; and every state in which a rule is broken."""
    functions = faulty.person.functions.items()
    return (
        *(loss for name, function in functions for loss in _losses(faulty, name, function)),
        *(loss for name, function in functions for loss in _still_powered(faulty, name, function)),
        *_running_idle(faulty),
        *_running_unheld(faulty),
        *_changing_modes(faulty),
    )


def _losses(faulty: Faulty, name: str, function: Function) -> Iterator[Loss]:
    person, truth, effects = faulty.person, faulty.truth, faulty.person.bench.required.effects
    demand, latched = full_demand(person, name), unreset_stop(name)
    device = person.name(function.demand)
    asked = f"although the {device} demanded the stop"
    begins = ir.all_of([ir.rises(demand), ir.no(person.shown_demand(name))])
    if "torque_off" in function.effects:
        for unit in person.units_of(name):
            there = ir.any_of([truth.permit(unit), truth.torque(unit)])
            still = "and nobody has reset it" if person.needs_reset(name) else "and still does"
            complaint = f"the {person.name(unit)} may make torque {asked} {still}"
            within = person.limit_ns(name, unit)
            yield Loss(
                name, "torque_off", unit, ir.all_of([latched, there]), within, complaint, latched, begins
            )
    locks = "locked" in person.kind(function.demand).outputs and function.in_modes is None
    if "torque_off" in function.effects and locks:
        moving, said, _ = danger(function, person, truth)
        free = ir.all_of([ir.no(truth.output(function.demand, "locked")), moving])
        complaint = f"the {device} is free although {said}"
        yield Loss(name, "locked_until_standstill", function.demand, free, 0, complaint)
        for lock in (one for one in faulty.locks if one.function == name):
            claim, event = drives_too_long(lock.timer), lock.timer.event
            [late], who = claim.culprits.values(), person.name(faulty.chain.events[event].device)
            complaint = (
                f"the {who} may free the {device} although {said}: it runs while the shaft is still driven"
            )
            yield Loss(
                name,
                "locked_until_standstill",
                function.demand,
                late,
                claim.within_ns,
                complaint,
                claim.during,
                doubts=None if lock.alone else event,
            )
    if "references_zero" in function.effects and (store := effects.references_zero) is not None:
        term = ir.all_of([latched, truth.output(store.of, "set")])
        complaint = f"the {person.name(store.of)} are set {asked} and nobody has reset it"
        yield Loss(name, "references_zero", store.of, term, store.within, complaint, latched, begins)
    if "contactor_open" in function.effects and (main := effects.contactor_open) is not None:
        term = ir.all_of([demand, truth.closed(main.of)])
        complaint = f"the {person.supply_name(main.of)} stays closed {asked}"
        yield Loss(name, "contactor_open", main.of, term, main.within, complaint, demand)
    if (supply := function.supply) is not None:
        taken = supply_barred(name)
        barred = ir.all_of([taken, ir.no(person.demand(name))])
        closed, called = truth.closed(supply.of), person.supply_name(supply.of)
        limit = None if effects.contactor_open is None else effects.contactor_open.within
        button = person.name(supply.on_by)
        complaint = f"the {called} is closed again although nobody pressed the {button} anew"
        yield Loss(name, "supply_stays_off", supply.of, ir.all_of([barred, closed]), limit, complaint, taken)
    bus = effects.bus_discharged
    if "bus_discharged" in function.effects and bus is not None and "live" in person.kind(bus.of).outputs:
        term = ir.all_of([demand, truth.output(bus.of, "live")])
        complaint = f"the {person.name(bus.of)} stays live {asked}"
        yield Loss(name, "bus_discharged", bus.of, term, None, complaint)
        yield from _discharged_late(faulty, name, bus, complaint)


def _discharged_late(faulty: Faulty, name: str, bus: BusDischarged, complaint: str) -> Iterator[Loss]:
    """The bus takes longer than allowed, though its discharge comes to an end."""
    person, truth, demand = faulty.person, faulty.truth, full_demand(faulty.person, name)
    counts, cut, kind = demand, person.bench.required.effects.contactor_open, person.kind(bus.of)
    if bus.after == "contactor_open" and cut is not None:
        fed = person.bench.wiring.get(f"{bus.of}.feed")
        if fed == Name(f"{cut.of}.main") and list(kind.inputs) == ["feed"] and len(kind.delays) == 1:
            return  # it begins to discharge when the time begins to count: in time on the sound bench, or never
        counts = ir.all_of([demand, ir.no(truth.closed(cut.of))])
    live = ir.all_of([counts, truth.output(bus.of, "live")])
    yield Loss(name, "bus_discharged", bus.of, live, bus.within, complaint, counts)


def _still_powered(faulty: Faulty, name: str, function: Function) -> Iterator[Loss]:
    """After a stop of category 1 only the control of the unit, which braked it, keeps its torque away."""
    person, demand = faulty.person, full_demand(faulty.person, name)
    for unit in person.braked_by(name):
        if not person.kind(unit).off_channels:
            continue
        term = ir.all_of([demand, powered(faulty.truth, unit)])
        complaint = (
            f"the torque-off inputs and the supply of the {person.name(unit)} stay on although the "
            f"{person.name(function.demand)} demanded the stop"
        )
        within, rule = person.limit_ns(name, unit), Rule("power_removed", name, unit)
        yield Loss(name, rule.id, unit, term, within, complaint, demand, rule=rule)


def _running_idle(faulty: Faulty) -> Iterator[Loss]:
    """In a mode a unit makes torque that does not work in it."""
    person, modes = faulty.person, faulty.person.bench.required.modes
    for mode, described in ({} if modes is None else modes.each).items():
        for unit in person.bench.required.idle_in(mode):
            term, here = runs_idle(person, faulty.truth, mode, unit)
            complaint = (
                f"the {person.name(unit)} makes torque in mode '{described.title}', in which it does not work"
            )
            within, rule = person.limit_ns(None, unit), Rule("idle_in_mode", mode, unit)
            yield Loss("", rule.id, unit, term, within, complaint, here, rule=rule)


def _running_unheld(faulty: Faulty) -> Iterator[Loss]:
    """In a mode in which a function is suspended a unit makes torque although nobody holds a device for it."""
    person, modes = faulty.person, faulty.person.bench.required.modes
    for mode, described in ({} if modes is None else modes.each).items():
        for unit, free in unheld(person, mode):
            called = person.name(unit)
            complaint = (
                f"the {called} makes torque in mode '{described.title}' although nobody holds a device for it"
            )
            within, rule = person.limit_ns(None, unit), Rule("held_in_mode", mode, unit)
            term = ir.all_of([free, faulty.truth.torque(unit)])
            yield Loss("", rule.id, unit, term, within, complaint, free, rule=rule)


def _changing_modes(faulty: Faulty) -> Iterator[Loss]:
    """The mode was changed, nobody has reset since, and a unit may make torque."""
    person, truth, modes = faulty.person, faulty.truth, faulty.person.bench.required.modes
    if modes is None or modes.change != "stops":
        return
    for unit in person.units:
        there = ir.any_of([truth.permit(unit), truth.torque(unit)])
        complaint = f"the {person.name(unit)} may make torque although the mode was changed and nobody has reset since"
        within, rule = person.limit_ns(None, unit), Rule("mode_change_stops", modes.by, unit)
        changed = ir.Now(_CHANGED, frozenset({"set"}))
        yield Loss("", rule.id, unit, ir.all_of([changed, there]), within, complaint, changed, rule=rule)


def _latch(function: str) -> str:
    return f"full latch of {function}"
