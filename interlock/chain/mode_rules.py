"""Properties of a bench's modes: changing them stops it and starts nothing; what replaces a suspended function."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.required_models import Modes
from interlock.chain import ir
from interlock.chain.observers import lawful_reset, mode_changed
from interlock.chain.property import NeverLasts, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement

__all__ = ["mode_rules", "runs_idle", "suspended", "unheld"]

_CHANGE: Final = "IEC 60204-1:2016, 9.2.3.5 (operating modes; from memory)"
_HOLD: Final = "ISO 12100:2010, 6.2.11.9; IEC 60204-1:2016, 9.2.3.6 (suspended safety functions; from memory)"


def mode_rules(required: Requirement) -> Iterator[Property]:
    """Nothing, if the bench has no modes."""
    modes = required.bench.required.modes
    if modes is None:
        return
    if modes.change == "stops":
        yield from _change_stops(required, modes)
    yield _change_starts_nothing(required, modes)
    for mode in modes.each:
        yield from _idle(required, modes, mode)
    for mode in modes.each:
        if suspended(required, mode):
            yield from _held(required, modes, mode)


def suspended(required: Requirement, mode: str) -> list[str]:
    """The functions that take torque away, but are not required in the mode; not those of a device to be held."""
    return [
        name
        for name, function in required.functions.items()
        if "torque_off" in function.effects
        and mode not in required.modes_of(name)
        and not required.kind(function.demand).momentary
    ]


def _change_stops(required: Requirement, modes: Modes) -> Iterator[Property]:
    selector, button = required.name(modes.by), required.name(required.reset_of(None))
    for unit in required.units:
        called = required.name(unit)
        yield Property(
            id="mode_change_stops",
            function=None,
            subject=unit,
            title=f"{selector}: changing the mode stops the {called} until the reset",
            requirement=f"From a change of the mode until the {button} was lawfully pressed and let go, the {called} "
            "is not permitted to make torque",
            source=f"{_CHANGE}; {modes.source}",
            claim=NeverLasts(
                required.permitted(mode_changed(), [unit]), required.limit_ns(None, unit), mode_changed()
            ),
            premises=(
                Premise(
                    f"the mode is changed while the {called} makes torque",
                    ir.all_of([ir.was(required.torque(unit)), required.mode_changes()]),
                ),
                Premise(
                    "the bench is reset after a change of the mode",
                    ir.all_of([ir.was(mode_changed()), lawful_reset(required)]),
                ),
            ),
            complaint="the {who} may make torque although the mode was changed and nobody has reset since",
        )


def _change_starts_nothing(required: Requirement, modes: Modes) -> Property:
    selector, changes = required.name(modes.by), required.mode_changes()
    begins = {
        required.name(unit): ir.all_of([required.acts_on([modes.by]), ir.rises(required.torque(unit))])
        for unit in required.units
    }
    return Property(
        id="mode_change_never_starts",
        function=None,
        subject=modes.by,
        title=f"{selector}: changing the mode starts nothing",
        requirement=f"No unit begins to make torque by the act on the {selector}",
        source=f"{_CHANGE}; {modes.source}",
        claim=NeverStep(begins),
        premises=(Premise("the mode is changed", changes),),
        complaint=f"the {{who}} begin{{s}} to make torque by the act on the {selector} alone",
    )


def _idle(required: Requirement, modes: Modes, mode: str) -> Iterator[Property]:
    """A unit that does not work in the mode makes no torque in it."""
    called = modes.each[mode].title
    for unit in required.bench.required.idle_in(mode):
        name, (runs, here) = required.name(unit), runs_idle(required, required, mode, unit)
        yield Property(
            id="idle_in_mode",
            function=None,
            subject=unit,
            title=f"{called}: the {name} makes no torque",
            requirement=f"In mode '{called}', in which the {name} does not work, it makes no torque",
            source=modes.source,
            claim=NeverLasts({name: runs}, required.limit_ns(None, unit), here),
            premises=(Premise(f"mode '{called}' is selected", here),),
            complaint=f"the {{who}} make{{s}} torque in mode '{called}', in which it does not work",
        )


def runs_idle(person: Requirement, truth: Requirement, mode: str, unit: str) -> tuple[ir.Term, ir.Term]:
    """The unit makes torque (under faults: in truth) while the mode is selected; and that it is."""
    here = person.selected(mode)
    return ir.all_of([here, truth.torque(unit)]), here


def _held(required: Requirement, modes: Modes, mode: str) -> Iterator[Property]:
    """Where a function is suspended, a person must hold a device that stops when it is let go."""
    called, lost = modes.each[mode].title, suspended(required, mode)
    titles = " and ".join(f"'{required.functions[name].title}'" for name in lost)
    for unit, free in unheld(required, mode):
        here, torque = required.selected(mode), required.torque(unit)
        yield Property(
            id="held_in_mode",
            function=None,
            subject=unit,
            title=f"{called}: the {required.name(unit)} makes torque only while a person holds a device for it",
            requirement=f"In mode '{called}', in which {titles} is not required, the {required.name(unit)} makes "
            "torque only while a person holds an enabling or hold-to-run device",
            source=f"{_HOLD}; {modes.source}",
            claim=NeverLasts(
                {required.name(unit): ir.all_of([free, torque])}, required.limit_ns(None, unit), free
            ),
            premises=(
                Premise(
                    f"the {required.name(unit)} makes torque in mode '{called}'", ir.all_of([here, torque])
                ),
            ),
            complaint=f"the {{who}} make{{s}} torque in mode '{called}' although nobody has to hold a device for it",
        )


def unheld(required: Requirement, mode: str) -> Iterator[tuple[str, ir.Term]]:
    """Each unit of which a stop is suspended in the mode; and that in it nobody holds a device that would stop it."""
    lost, idle = suspended(required, mode), required.bench.required.idle_in(mode)
    stopped = {one for name in lost for one in required.units_of(name)}
    for unit in (one for one in required.units if one in stopped and one not in idle):
        holds = [
            name
            for name in required.functions
            if mode in required.modes_of(name)
            and unit in required.units_of(name)
            and required.kind(required.functions[name].demand).momentary
        ]
        held = ir.any_of(ir.no(required.demand(name)) for name in holds)
        yield unit, ir.all_of([required.selected(mode), ir.no(held)])
