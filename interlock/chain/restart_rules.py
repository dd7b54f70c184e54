"""Properties of what comes after a stop: only a lawful reset permits torque, only a person starts it."""

from collections.abc import Iterator

from interlock.bench import Function
from interlock.chain import ir
from interlock.chain.observers import latched, lawful_reset, stop_due, unreset
from interlock.chain.property import Claim, NeverLasts, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement, falls, rises

__all__ = ["release_rules", "reset_rules", "start_rules", "stays_off_rules", "stop_completes"]

_START = "ISO 13849-1:2015, 5.2.3 (start and restart); IEC 60204-1:2016, 9.2.3.2"


def release_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """The demand's end permits no torque."""
    device = required.name(function.demand)
    act = required.events_of(function.demand)
    yield _rule(
        required,
        name,
        "release_never_restarts",
        f"{device}: ending its demand permits no torque",
        f"{function.title}: taking the demand back must not by itself permit torque again",
        NeverStep(_permitted_by(required, ir.all_of([ir.was(latched(name)), act]))),
        Premise(f"the demand of the {device} ends", ir.all_of([act, falls(required.demand(name))])),
        f"the {{who}} may make torque again by the act on the {device} alone, without a reset",
    )


def reset_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """Only a press of reset that begins and ends without a demand permits torque, and it starts nothing."""
    device, button = required.name(function.demand), required.name(required.bench.required.reset.by)
    pressed, demanded = required.reset(), required.any_demand()
    before = ir.was(latched(name))
    unlawful = ir.all_of([before, falls(pressed), ir.no(lawful_reset(required))])
    itself = ir.any_of([required.acts_on([required.bench.required.reset.by]), required.late()])
    under = ir.all_of([unlawful, required.demand(name)])
    stuck = ir.all_of([unlawful, ir.no(demanded)])
    yield _rule(
        required,
        name,
        "reset_acts_on_release",
        f"{device}: reset acts when the {button} is let go, not while it is pressed",
        f"After a stop by the {device} nothing is permitted while the {button} is pressed",
        NeverStep(_permitted_by(required, ir.all_of([before, pressed, itself]))),
        Premise(
            f"the {button} is pressed after a stop by the {device}, no demand being present",
            ir.all_of([before, rises(pressed), ir.no(demanded)]),
        ),
        f"the {{who}} may make torque again while the {button} is still pressed",
    )
    yield _rule(
        required,
        name,
        "no_reset_under_demand",
        f"{device}: no reset while it demands the stop",
        f"The {button} does nothing while the {device} demands the stop",
        NeverStep(_permitted_by(required, under)),
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
        NeverStep(_permitted_by(required, stuck)),
        Premise(f"the {button} is held since before the demand of the {device} ended and then let go", stuck),
        f"the {{who}} may make torque again although the {button} was not pressed anew after the stop",
    )
    yield _reset_never_starts(required, name, function)


def _reset_never_starts(required: Requirement, name: str, function: Function) -> Property:
    reset, device = required.bench.required.reset, required.name(function.demand)
    held = required.held()
    by_reset = ir.all_of([ir.was(latched(name)), required.acts_on([reset.by]), ir.no(held)])
    starts = {
        required.name(unit): ir.all_of([by_reset, rises(required.torque(unit))]) for unit in required.units
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
            ir.all_of([ir.was(latched(name)), lawful_reset(required)]),
        ),
        f"the {{who}} make{{s}} torque by the {required.name(reset.by)} alone, nobody having started it",
    )


def stays_off_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """From the demand until a lawful reset no unit is permitted to make torque."""
    device = required.name(function.demand)
    yield _rule(
        required,
        name,
        "stays_off",
        f"{device}: torque stays barred until the reset, whatever else is done",
        f"{function.title}: from the demand until a lawful reset no unit is permitted to make torque",
        NeverLasts(required.permitted(latched(name)), required.bench.required.effects.torque_off.within),
        Premise(f"the demand of the {device} ends before a reset", falls(required.demand(name))),
        f"the {{who}} may make torque although nobody has reset since the stop by the {device}",
    )


def stop_completes(required: Requirement) -> Iterator[Property]:
    """A stop goes through to the end even if the bench is reset while it still goes on."""
    effect = required.bench.required.effects.torque_off
    over = ir.no(unreset())
    for unit in required.units:
        called, torque = required.name(unit), required.torque(unit)
        yield Property(
            id="stop_completes",
            function=None,
            subject=unit,
            title=f"{called}: a stop once demanded is carried through",
            requirement=f"Once a stop was demanded the torque of the {called} goes away, even if the demand ends "
            "and the bench is reset before that; it comes back only by a new start",
            source=f"{effect.source}; {_START}",
            claim=NeverLasts({called: ir.all_of([stop_due(unit), over, torque])}, effect.within),
            premises=(
                Premise(
                    f"a stop is demanded while the {called} makes torque",
                    ir.all_of([ir.was(torque), rises(required.any_demand())]),
                ),
            ),
            complaint="the {who} still make{s} torque, which the stop never took away and nobody started anew",
        )


def start_rules(required: Requirement) -> Iterator[Property]:
    """Torque begins only by an act of a person who means it."""
    meant = ir.any_of([required.acts_elsewhere(required.not_meant_to_start()), required.held()])
    for unit in required.units:
        called, begins = required.name(unit), rises(required.torque(unit))
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
) -> Property:
    source = f"{required.bench.required.reset.source}; {required.functions[name].source}"
    return Property(id_, name, None, title, requirement, source, claim, (premise,), complaint)


def _permitted_by(required: Requirement, event: ir.Term) -> dict[str, ir.Term]:
    """The event makes a unit's permission or its torque come back, by the unit's name."""
    return {
        required.name(unit): ir.all_of(
            [event, ir.any_of([rises(required.permit(unit)), rises(required.torque(unit))])]
        )
        for unit in required.units
    }
