"""What counts as the loss of a safety function under faults, and as a restart that nobody asked for.

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

from interlock.bench import Function
from interlock.chain import ir
from interlock.chain.bent import Faulty
from interlock.chain.compile import waits
from interlock.chain.lock_rules import danger
from interlock.chain.observers import needed, observers, supply_barred
from interlock.chain.requirement import Requirement, rises

__all__ = [
    "Loss",
    "Restart",
    "at_rest",
    "fault_observers",
    "full_demand",
    "losses",
    "restarts",
    "unreset_stop",
    "working",
]


@dataclass(frozen=True, slots=True)
class Loss:
    """A state that must not last: the function's effect is not there. None: late reactions of any length may end it.

    The limit counts from when `during` became true, and anew after an event by which another demand `begins`; without
    `during` from the state itself.
    """

    function: str
    effect: str
    device: str  # of which something is said
    term: ir.Term
    within_ns: int | None
    complaint: str
    during: ir.Term | None = None
    begins: ir.Term = ir.FALSE


@dataclass(frozen=True, slots=True)
class Restart:
    """An event that must not be: a unit begins to make torque although nobody meant it to."""

    unit: str
    event: ir.Term


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
    return (*latches, *needed(observers(person), terms))


def _over(person: Requirement, function: str) -> ir.Term:
    """Reset is pressed; of a function that needs none, its demand is over."""
    if person.needs_reset(function):
        return rises(person.reset(function))
    return ir.no(person.demand(function))


def working(faulty: Faulty) -> ir.Term:
    """Every unit makes torque."""
    return ir.all_of(faulty.person.torque(unit) for unit in faulty.person.units)


def at_rest(faulty: Faulty) -> ir.Term:
    """No late reaction is still to come."""
    late = (event for event in faulty.chain.events if event.kind is ir.EventKind.LATE)
    return ir.all_of(ir.no(waits(event)) for event in late)


def restarts(faulty: Faulty) -> tuple[Restart, ...]:
    """For each unit: its torque begins by an act that is not meant to start it, by itself, or by a fault."""
    person = faulty.person

    def unasked(unit: str) -> ir.Term:
        meant = ir.any_of([person.starts(unit), person.held()])
        return ir.all_of([rises(person.torque(unit)), ir.no(meant)])

    return tuple(Restart(unit, unasked(unit)) for unit in person.units)


def losses(faulty: Faulty) -> tuple[Loss, ...]:
    """Every way in which a function may be lost, by its effects."""
    return tuple(
        loss for name, function in faulty.person.functions.items() for loss in _losses(faulty, name, function)
    )


def _losses(faulty: Faulty, name: str, function: Function) -> Iterator[Loss]:
    person, truth, effects = faulty.person, faulty.truth, faulty.person.bench.required.effects
    demand, latched = full_demand(person, name), unreset_stop(name)
    device = person.name(function.demand)
    asked = f"although the {device} demanded the stop"
    begins = ir.all_of([rises(demand), ir.no(person.shown_demand(name))])
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
    if "references_zero" in function.effects and (store := effects.references_zero) is not None:
        term = ir.all_of([latched, truth.output(store.of, "set")])
        complaint = f"the {person.name(store.of)} are set {asked} and nobody has reset it"
        yield Loss(name, "references_zero", store.of, term, store.within, complaint, latched, begins)
    if "contactor_open" in function.effects and (main := effects.contactor_open) is not None:
        term = ir.all_of([demand, truth.output(main.of, "main")])
        complaint = f"the {person.name(main.of)} stays closed {asked}"
        yield Loss(name, "contactor_open", main.of, term, main.within, complaint, demand)
    if (supply := function.supply) is not None:
        taken = supply_barred(name)
        barred = ir.all_of([taken, ir.no(person.demand(name))])
        closed = truth.output(supply.of, "main")
        limit = None if effects.contactor_open is None else effects.contactor_open.within
        button = person.name(supply.on_by)
        complaint = f"the {person.name(supply.of)} is closed again although nobody pressed the {button} anew"
        yield Loss(name, "supply_stays_off", supply.of, ir.all_of([barred, closed]), limit, complaint, taken)
    bus = effects.bus_discharged
    if "bus_discharged" in function.effects and bus is not None and "live" in person.kind(bus.of).outputs:
        term = ir.all_of([demand, truth.output(bus.of, "live")])
        complaint = f"the {person.name(bus.of)} stays live {asked}"
        yield Loss(name, "bus_discharged", bus.of, term, None, complaint)


def _latch(function: str) -> str:
    return f"full latch of {function}"
