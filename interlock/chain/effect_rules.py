"""Properties of references and of the supply, and that the bench can always be brought back to work."""

from collections.abc import Iterator

from interlock.bench import Function
from interlock.chain import ir
from interlock.chain.frame import Frame
from interlock.chain.observers import another_demand, channels_in_doubt, latched, supply_barred
from interlock.chain.property import CanReach, NeverLasts, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement

__all__ = [
    "bus_rules",
    "closes_again",
    "contactor_rules",
    "recovery_rules",
    "reference_rules",
    "references_by_person",
    "strict_supply",
    "supply_return_rules",
    "supply_rules",
]

_SUPPLY_RETURN = "IEC 60204-1:2016, 7.5 (interruption and return of the supply)"


def reference_rules(frame: Frame) -> Iterator[Property]:
    """After the demand the references are zero until the bench was reset."""
    required, name = frame.required, frame.name
    effect = required.bench.required.effects.references_zero
    if effect is None:
        return
    store, is_set = required.name(effect.of), required.output(effect.of, "set")
    device = frame.device
    yield frame.rule(
        "references_zero",
        effect.of,
        f"takes the {store} to zero",
        f"the {store} are zero from the demand until the bench was reset",
        effect.source,
        NeverLasts(
            {store: ir.all_of([latched(name), is_set])},
            effect.within,
            latched(name),
            another_demand(required, name),
        ),
        (frame.begins(is_set, f"the {store} are set"),),
        f"the {{who}} are still set although the {device} has stopped the bench and nobody has reset it",
    )


def references_by_person(required: Requirement) -> Iterator[Property]:
    """Only a person sets references."""
    effect = required.bench.required.effects.references_zero
    if effect is None:
        return
    store, begins = required.name(effect.of), ir.rises(required.output(effect.of, "set"))
    meant = required.acts_elsewhere(required.not_meant_to_start() | set(required.units))
    yield Property(
        "references_by_person",
        None,
        effect.of,
        f"the {store} are set only by a person",
        f"The {store} leave zero only by an act meant to set them: not by a stop device, reset, supply-on, the "
        "start of a unit, or by themselves",
        effect.source,
        NeverStep({store: ir.all_of([begins, ir.no(meant)])}),
        (Premise(f"the {store} leave zero", begins),),
        "the {who} leave zero although nobody set them",
    )


def contactor_rules(frame: Frame) -> Iterator[Property]:
    """The main contactor opens at the demand."""
    required, name, function = frame.required, frame.name, frame.function
    effect = required.bench.required.effects.contactor_open
    if effect is None:
        return
    every = {required.name(one): required.output(one, "main") for one in required.in_series(effect.of)}
    main, device = required.closed(effect.of), frame.device
    called, supply = required.supply_name(effect.of), function.supply
    held = ir.FALSE if supply is None else required.output(supply.on_by, "pressed")
    yield frame.rule(
        "contactor_open",
        effect.of,
        f"opens the {called}",
        f"the {called} opens and is open while the demand is present",
        effect.source,
        frame.lasts({one: ir.all_of([ir.no(held), closed]) for one, closed in every.items()}, effect.within),
        (
            Premise(
                f"the {device} demands the stop while the {called} is closed",
                ir.all_of([ir.was(main), ir.rises(required.demand(name))]),
            ),
        ),
        f"the {{who}} stay{{s}} closed although the {device} is {{state}}",
    )


def supply_rules(frame: Frame) -> Iterator[Property]:
    """Supply-on is dead while the demand is present, and the demand's end does not bring the supply back."""
    required, name, function = frame.required, frame.name, frame.function
    supply, effect = function.supply, required.bench.required.effects.contactor_open
    if supply is None:
        return
    within = None if effect is None else effect.within
    main, pressed = required.closed(supply.of), required.output(supply.on_by, "pressed")
    called, button = required.supply_name(supply.of), required.name(supply.on_by)
    demand, device = frame.demand, frame.device
    yield frame.rule(
        "supply_on_dead",
        supply.of,
        f"the {button} is dead meanwhile",
        f"while the demand is present, pressing or holding the {button} does not keep or "
        f"make the {called} closed",
        supply.source,
        frame.lasts({called: ir.all_of([pressed, main])}, within),
        (
            Premise(
                f"the {button} is pressed while the {device} demands the stop",
                ir.all_of([demand, ir.rises(pressed)]),
            ),
        ),
        f"the {{who}} is held closed by the {button} although the {device} is {{state}}",
    )
    yield frame.rule(
        "supply_stays_off",
        supply.of,
        "ending its demand does not bring the supply back",
        f"after the demand the {called} stays open until the {button} is pressed",
        supply.source,
        NeverLasts(
            {called: ir.all_of([supply_barred(name), ir.no(demand), main])}, within, supply_barred(name)
        ),
        (Premise(f"the demand of the {device} ends", ir.all_of([ir.falls(demand), supply_barred(name)])),),
        f"the {{who}} is closed although the {button} was not pressed since the demand of the {device} ended",
    )
    if effect is None:
        yield frame.rule(
            "supply_not_again",
            supply.of,
            f"the {called} does not close again, not even for a moment",
            f"no time is stated within which the {called} must be open, so from the demand on it "
            f"must not close at all before the {button} is pressed",
            supply.source,
            NeverStep({called: closes_again(required, name, supply.of)}),
            (Premise(f"the {device} demands the stop", ir.rises(demand)),),
            f"the {{who}} closes again, be it for a moment only, although the {button} was not pressed since the "
            f"{device} demanded the stop",
        )


def closes_again(truth: Requirement, name: str, contactor: str) -> ir.Term:
    """The supply comes back after the function has taken it, nobody having pressed supply-on since the demand went."""
    barred = supply_barred(name)
    return ir.all_of([ir.was(barred), barred, ir.rises(truth.closed(contactor))])


def supply_return_rules(frame: Frame) -> Iterator[Property]:
    """The return of the supply starts nothing."""
    required, supply = frame.required, frame.function.supply
    if supply is None:
        return
    called, button = required.supply_name(supply.of), required.name(supply.on_by)
    main = required.closed(supply.of)
    bus = required.bench.required.effects.bus_discharged
    feeding = [*required.in_series(supply.of), *([] if bus is None else [bus.of])]
    returns = ir.any_of([required.late(feeding), required.acts_on([supply.on_by])])
    nobody = ir.no(required.held())
    yield frame.rule(
        "supply_return_never_starts",
        None,
        "the return of the supply starts nothing",
        f"no unit begins to make torque because the {button} is pressed or the supply has come back",
        f"{_SUPPLY_RETURN}; {supply.source}",
        NeverStep(
            {
                required.name(unit): ir.all_of([returns, nobody, ir.rises(required.torque(unit))])
                for unit in required.units
            }
        ),
        (Premise(f"the {called} closes", ir.rises(main)),),
        "the {who} begin{s} to make torque because the supply has come back",
    )


def strict_supply(required: Requirement, name: str, function: Function) -> ir.Term | None:
    """The supply is on although supply-on was not pressed anew, only held, since the demand; None: no rule."""
    if function.supply is None:
        return None
    main = required.closed(function.supply.of)
    return ir.all_of([supply_barred(name, strict=True), ir.no(required.demand(name)), main])


def bus_rules(frame: Frame) -> Iterator[Property]:
    """The bus is cut off and discharges."""
    required, name = frame.required, frame.name
    effect = required.bench.required.effects.bus_discharged
    if effect is None or "live" not in required.kind(effect.of).outputs:
        return
    live, called = required.output(effect.of, "live"), required.name(effect.of)
    device = frame.device
    yield frame.rule(
        "bus_discharged",
        effect.of,
        f"cuts off and discharges the {called}",
        f"the {called} is cut off and discharges while the demand is present",
        effect.source,
        NeverLasts({called: ir.all_of([required.demand(name), live])}, None),
        (
            Premise(
                f"the {device} demands the stop while the {called} is live",
                ir.all_of([ir.was(live), ir.rises(required.demand(name))]),
            ),
        ),
        f"the {{who}} stays live although the {device} is {{state}}",
    )


def recovery_rules(required: Requirement) -> Iterator[Property]:
    """From every state the bench can be brought back to work, after a stop without any further stop."""
    goals = {required.name(unit): required.torque(unit) for unit in required.units}
    yield Property(
        "recovers",
        None,
        None,
        "the bench can always be brought back to work",
        "From every state that the bench can reach, lawful acts lead back to each unit making torque",
        "the suite's own rule: a bench that hangs invites people to defeat its safety (ISO 14119:2013, 7)",
        CanReach(goals),
        (),
        "no acts bring the {who} to make torque",
    )
    stops = [one.demand for one in required.functions.values() if not required.kind(one.demand).starts]
    calm = ir.all_of([ir.no(required.any_demand()), ir.no(channels_in_doubt(required))])
    for subject, units, here in _by_modes(required):
        called = {required.name(unit): required.torque(unit) for unit in units}
        yield Property(
            "reset_restores",
            None,
            subject,
            "a stop that is over can be reset",
            "When no demand is present and no channels disagree, reset, supply-on and start lead back to each "
            "unit making torque, without operating a stop device again",
            "ISO 13849-1:2015, 5.2.2; a lock-out by a normal stop shows a channel that is not wired",
            CanReach(called, ir.all_of([calm, here]), ir.no(required.stopping(stops))),
            (Premise("a demand ends", ir.falls(required.any_demand())),),
            "no stop is demanded, and yet no reset and no start bring the {who} to make torque",
        )


def _by_modes(required: Requirement) -> Iterator[tuple[str | None, list[str], ir.Term]]:
    """The units that work in every mode together, each other one by itself, and where they work."""
    modes, stated = required.bench.required.modes, required.bench.required
    away = {
        unit: [mode for mode in ({} if modes is None else modes.each) if unit in stated.idle_in(mode)]
        for unit in required.units
    }
    if always := [unit for unit, idle in away.items() if not idle]:
        yield None, always, ir.TRUE
    for unit, idle in away.items():
        if idle:
            yield unit, [unit], ir.no(ir.any_of(required.selected(mode) for mode in idle))
