"""Properties of what comes after a stop: only a lawful reset permits torque, only a person starts it."""

from collections.abc import Callable, Iterator

from interlock.chain import ir
from interlock.chain.frame import Frame
from interlock.chain.observers import another_demand, brief_due, latched, lawful_reset, stop_due, unreset
from interlock.chain.property import Claim, NeverLasts, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement

__all__ = ["brief_rules", "release_rules", "reset_rules", "start_rules", "stays_off_rules", "stop_completes"]

_START = "ISO 13849-1:2015, 5.2.3 (start and restart); IEC 60204-1:2016, 9.2.3.2"


def release_rules(frame: Frame) -> Iterator[Property]:
    """The demand's end permits no torque, where somebody must reset."""
    required, name, function = frame.required, frame.name, frame.function
    device = required.name(function.demand)
    if not required.needs_reset(name):
        return
    act = required.events_of(function.demand)
    yield _rule(
        required,
        name,
        "release_never_restarts",
        f"{device}: ending its demand permits no torque",
        f"{function.title}: taking the demand back must not by itself permit torque again",
        NeverStep(_permitted_by(required, name, ir.all_of([ir.was(latched(name)), act]))),
        Premise(f"the demand of the {device} ends", ir.all_of([act, ir.falls(required.demand(name))])),
        f"the {{who}} may make torque again by the act on the {device} alone, without a reset",
    )


def reset_rules(frame: Frame) -> Iterator[Property]:
    """Only a press of reset that begins and ends without a demand permits torque, and it starts nothing."""
    required, name, function = frame.required, frame.name, frame.function
    if not required.needs_reset(name):
        return
    device, reset = required.name(function.demand), required.reset_of(name)
    button, pressed = required.name(reset), required.reset(name)
    demanded = required.barred(name)
    before = ir.was(latched(name))
    unlawful = ir.all_of([before, ir.falls(pressed), ir.no(lawful_reset(required, name))])
    itself = ir.any_of([required.acts_on([reset]), required.late()])
    under = ir.all_of([unlawful, required.shown_demand(name)])
    stuck = ir.all_of([unlawful, ir.no(demanded)])
    dead = f"After a stop by the {device} nothing is permitted while the {button} is pressed"
    if required.reset_by_supply(name):
        dead = f"After a stop by the {device} the {button}, while it is pressed, gives the supply back and no more"
    yield _rule(
        required,
        name,
        "reset_acts_on_release",
        f"{device}: reset acts when the {button} is let go, not while it is pressed",
        dead,
        NeverStep(_reset_by(required, name, ir.all_of([before, pressed, itself]))),
        Premise(
            f"the {button} is pressed after a stop by the {device}, no demand being present",
            ir.all_of([before, ir.rises(pressed), ir.no(demanded)]),
        ),
        f"the {{who}} may make torque again while the {button} is still pressed",
    )
    yield _rule(
        required,
        name,
        "no_reset_under_demand",
        f"{device}: no reset while it demands the stop",
        f"The {button} does nothing while the {device} demands the stop",
        NeverStep(_permitted_by(required, name, under)),
        Premise(
            f"the {button} is pressed and let go while the {device} demands the stop",
            under,
        ),
        f"the {{who}} may make torque again by the {button} although the {device} is {{state}}",
    )
    yield _rule(
        required,
        name,
        "stuck_reset",
        f"{device}: the {button}, held down or stuck, resets nothing",
        f"After a stop by the {device} only a press of the {button} that begins when no demand is present resets",
        NeverStep(_reset_by(required, name, stuck)),
        Premise(f"the {button} is held since before the demand of the {device} ended and then let go", stuck),
        f"the {{who}} may make torque again although the {button} was not pressed anew after the stop",
    )
    yield _reset_never_starts(frame)


def _reset_never_starts(frame: Frame) -> Property:
    required, name, function = frame.required, frame.name, frame.function
    reset, device = required.reset_of(name), required.name(function.demand)
    held = required.held()
    by_reset = ir.all_of([ir.was(latched(name)), required.acts_on([reset]), ir.no(held)])
    starts = {
        required.name(unit): ir.all_of([by_reset, ir.rises(required.torque(unit))])
        for unit in required.units_of(name)
    }
    return _rule(
        required,
        name,
        "reset_never_starts",
        f"{device}: reset alone brings no torque back",
        f"{function.title}: the reset only permits a start, it starts nothing itself",
        NeverStep(starts),
        Premise(
            f"a lawful reset follows the stop by the {device}",
            ir.all_of([ir.was(latched(name)), lawful_reset(required, name)]),
        ),
        f"the {{who}} make{{s}} torque by the {required.name(reset)} alone, nobody having started it",
    )


def stays_off_rules(frame: Frame) -> Iterator[Property]:
    """From the demand until a lawful reset, or the end of a demand that needs none, no unit is permitted."""
    required, name, function = frame.required, frame.name, frame.function
    device = required.name(function.demand)
    until, since = "a lawful reset", f"nobody has reset since the stop by the {device}"
    barred, begins = latched(name), another_demand(required, name)
    if not required.needs_reset(name):
        until, since = "its end", f"the {device} is {{state}}"
    if required.reset_by_supply(name):
        button, pressed = required.name(required.reset_of(name)), required.reset(name)
        until, since = (
            f"a press of the {button}",
            f"the {button} was not pressed since the stop by the {device}",
        )
        barred = ir.all_of([barred, ir.any_of([ir.no(pressed), required.barred(name)])])
        begins = ir.any_of([begins, ir.rises(required.barred(name))])
    for unit, units, within_ns in required.by_limit(name):
        yield _rule(
            required,
            name,
            "stays_off",
            f"{device}: torque stays barred until {until.replace('a lawful', 'the')}, whatever else is done",
            f"{function.title}: from the demand until {until} no unit is permitted to make torque",
            NeverLasts(
                required.permitted(barred, units),
                within_ns,
                latched(name),
                begins,
            ),
            Premise(f"the demand of the {device} ends before a reset", ir.falls(required.demand(name))),
            f"the {{who}} may make torque although {since}",
            unit,
        )


def stop_completes(required: Requirement) -> Iterator[Property]:
    """A stop goes through to the end even if the bench is reset while it still goes on."""
    for unit in required.units:
        for within_ns, stops in required.stops_of(unit):
            yield _stop_completes(required, unit, stops, within_ns)


def _stop_completes(required: Requirement, unit: str, stops: list[str], within_ns: int) -> Property:
    called, torque = required.name(unit), required.torque(unit)
    due, over = stop_due(required, unit, stops), ir.no(unreset(required, unit))
    demanded = ir.any_of(required.demand(name) for name in stops)
    return Property(
        id="stop_completes",
        function=None,
        subject=unit,
        title=f"{called}: a stop once demanded is carried through",
        requirement=f"Once a stop was demanded the torque of the {called} goes away, even if the demand ends "
        "and the bench is reset before that; it comes back only by a new start",
        source=f"{required.bench.required.effects.torque_off.source}; {_START}",
        claim=NeverLasts({called: ir.all_of([due, over, torque])}, within_ns, due),
        premises=(
            Premise(
                f"a stop is demanded while the {called} makes torque",
                ir.all_of([ir.was(torque), ir.rises(demanded)]),
            ),
        ),
        complaint="the {who} still make{s} torque, which the stop never took away and nobody started anew",
    )


def brief_rules(frame: Frame) -> Iterator[Property]:
    """Where nothing must be reset, a demand that ends before the torque went has stopped the unit all the same.

    Not of guards: a guard that is shut again at once bars the way to the danger, and its contacts may bounce.
    """
    required, name, device = frame.required, frame.name, frame.device
    if required.needs_reset(name) or required.kind(frame.function.demand).guard:
        return
    for unit in required.units_of(name):
        called, torque = required.name(unit), required.torque(unit)
        due, demand = brief_due(name, unit), required.demand(name)
        yield _rule(
            required,
            name,
            "brief_stop_completes",
            f"{device}: a stop of the {called} is carried through, however soon its demand ends",
            f"{frame.function.title}: once the {device} demanded the stop the torque of the {called} goes away, "
            "even if the demand ends before that; it comes back only if a person starts it",
            NeverLasts({called: ir.all_of([due, ir.no(demand), torque])}, required.limit_ns(name, unit), due),
            Premise(
                f"the {device} demands the stop while the {called} makes torque",
                ir.all_of([ir.was(torque), ir.rises(demand)]),
            ),
            "the {who} still make{s} torque, which the stop never took away and nobody started anew",
            unit,
        )


def start_rules(required: Requirement) -> Iterator[Property]:
    """Torque begins only by an act of a person who means it."""
    for unit in required.units:
        called, begins = required.name(unit), ir.rises(required.torque(unit))
        meant = ir.any_of([required.starts(unit), required.held()])
        yield Property(
            id="start_by_person",
            function=None,
            subject=unit,
            title=f"{called}: torque begins only by a person's start",
            requirement=f"The {called} begins to make torque only by an act meant to start it: not by a stop "
            "device, reset, supply-on, the return of the supply, or by itself",
            source=_START,
            claim=NeverStep({called: ir.all_of([begins, ir.no(meant)])}),
            premises=(Premise(f"the {called} begins to make torque", begins),),
            complaint="the {who} begin{s} to make torque although nobody started it",
        )


def _rule(
    required: Requirement,
    name: str,
    id_: str,
    title: str,
    requirement: str,
    claim: Claim,
    premise: Premise,
    complaint: str,
    subject: str | None = None,
) -> Property:
    source = f"{required.bench.required.reset.source}; {required.functions[name].source}"
    return Property(id_, name, subject, title, requirement, source, claim, (premise,), complaint)


def _reset_by(required: Requirement, name: str, event: ir.Term) -> dict[str, ir.Term]:
    """The same where it must not be by the reset; a button that gives the supply back permits by that alone.

    A start button that somebody holds meanwhile counts as a start by that person.
    """
    if not required.reset_by_supply(name):
        return _permitted_by(required, name, event)
    return _brought_by(required, name, ir.all_of([event, ir.no(required.held())]), required.enabled)


def _permitted_by(required: Requirement, name: str, event: ir.Term) -> dict[str, ir.Term]:
    """The event makes the permission or the torque of a unit of the function come back, by the unit's name.

    Of a stop that is reset by supply-on the supply is part of the permission; any other must not enable a unit even
    while that has no supply.
    """
    by_supply = required.reset_by_supply(name)
    return _brought_by(required, name, event, required.permit if by_supply else required.released)


def _brought_by(
    required: Requirement, name: str, event: ir.Term, what: Callable[[str], ir.Term]
) -> dict[str, ir.Term]:
    return {
        required.name(unit): ir.all_of(
            [event, ir.any_of([ir.rises(what(unit)), ir.rises(required.torque(unit))])]
        )
        for unit in required.units_of(name)
    }
