"""What the requirement must remember of the way: latches, presses of reset and supply-on, channels.

An observer is computed from demands and buttons as their kinds state them, never from the wiring.
"""

from collections.abc import Iterable, Iterator

from interlock.chain import ir
from interlock.chain.requirement import Requirement

__all__ = [
    "another_demand",
    "brief_due",
    "channels_in_doubt",
    "disagreed",
    "latched",
    "lawful_reset",
    "mode_changed",
    "needed",
    "observers",
    "reset_over",
    "stop_due",
    "supply_barred",
    "unreset",
]

_PRESS = "press of reset"
_ANY_LATCH = "latch of any function"
_MODE_LATCH = "latch of the modes"
_DOUBT = "channels in series"


def observers(required: Requirement) -> tuple[ir.Observer, ...]:
    """Every observer that the bench's properties need; later ones may look at earlier ones."""
    names = list(required.functions)
    presses = {_press_name(required, name): name for name in (None, *names)}
    return (
        *(_latch(required, name) for name in names),
        *_any_latch(required),
        *_mode_latch(required),
        *(_press(required, name) for name in presses.values()),
        *_supplies(required),
        *_channels(required),
        *_doubt(required),
        *(_stop(required, unit, stops) for unit in required.units for _, stops in required.stops_of(unit)),
        *(_brief(required, name, unit) for name in _briefly(required) for unit in required.units_of(name)),
    )


def needed(every: tuple[ir.Observer, ...], terms: Iterable[ir.Term]) -> tuple[ir.Observer, ...]:
    """Those observers that the terms speak of, and those that these look at in turn."""
    by_name = {observer.field.name: observer for observer in every}
    wanted: set[str] = set()
    waiting = list(terms)
    while waiting:
        for atom in ir.atoms(waiting.pop()):
            if not isinstance(atom, ir.By) and atom.field in by_name and atom.field not in wanted:
                wanted.add(atom.field)
                waiting += [term for term, _ in by_name[atom.field].updates]
    return tuple(observer for observer in every if observer.field.name in wanted)


def latched(function: str) -> ir.Term:
    """The function was demanded and no lawful reset has followed."""
    return ir.Now(f"latch of {function}", frozenset({"set"}))


def unreset(required: Requirement, unit: str) -> ir.Term:
    """A function that stops the unit was demanded and no lawful reset has followed."""
    if any(_any_latch(required)):
        return ir.Now(_ANY_LATCH, frozenset({"set"}))
    return ir.any_of(latched(name) for name in _resettable(required) if unit in required.units_of(name))


def mode_changed() -> ir.Term:
    """Another mode was selected and no lawful reset has followed."""
    return ir.Now(_MODE_LATCH, frozenset({"set"}))


def stop_due(required: Requirement, unit: str, stops: list[str] | None = None) -> ir.Term:
    """A stop (by these functions) was demanded while the unit made torque, which was not seen off since."""
    groups = [one for _, one in required.stops_of(unit)] if stops is None else [stops]
    return ir.any_of(ir.Now(_stop_name(required, unit, one), frozenset({"due"})) for one in groups)


def brief_due(function: str, unit: str) -> ir.Term:
    """The function, which needs no reset, was demanded while the unit made torque, and neither was the torque seen off
    since nor does a person mean to start it."""
    return ir.Now(_brief_name(function, unit), frozenset({"due"}))


def lawful_reset(required: Requirement, function: str | None = None) -> ir.Term:
    """The event ends a press of the (function's) reset that began, and went on, without a demand that bars it."""
    return ir.all_of(
        [
            ir.Was(_press_name(required, function), frozenset({"lawful"})),
            ir.falls(required.reset(function)),
            ir.no(required.barred(function)),
        ]
    )


def reset_over(required: Requirement, function: str) -> ir.Term:
    """After this event the function counts as reset.

    Supply-on, where it is what resets, may have been held since before the demand ended: so it may for the supply.
    """
    lawful = lawful_reset(required, function)
    if not required.reset_by_supply(function):
        return lawful
    let_go = ir.all_of([ir.falls(required.reset(function)), ir.no(required.barred(function))])
    return ir.any_of([lawful, let_go])


def another_demand(required: Requirement, function: str) -> ir.Term:
    """The demand begins, but its device has not had the time to show it: until then a reset may lawfully act."""
    return ir.all_of([ir.rises(required.demand(function)), ir.no(required.shown_demand(function))])


def supply_barred(function: str, *, strict: bool = False) -> ir.Term:
    """The supply was taken by the function and supply-on was not pressed since the demand went."""
    return ir.Now(_supply_name(function, strict), frozenset({"barred"}))


def disagreed(function: str, *, strict: bool = False) -> ir.Term:
    """One channel opened and closed again alone, and both were not seen open since.

    Strict: seen open at this device itself. Else the first channels of all demanding devices count as one
    series line and the second ones as another, which is all that a relay at their end can see.
    """
    return ir.Now(_channel_name(function, strict), frozenset({"disagreed"}))


def channels_in_doubt(required: Requirement) -> ir.Term:
    """The channels of some demanding device disagreed, whether or not a rule of the bench says so.

    Seen open at the device itself: a relay of which other stop devices know nothing stays locked out till then.
    """
    series = ir.Now(_DOUBT, frozenset({"disagreed"})) if any(_doubt(required)) else ir.FALSE
    pairs = [name for name, function in required.functions.items() if required.kind(function.demand).channels]
    return ir.any_of([series, *(disagreed(name, strict=True) for name in pairs)])


def _latch(required: Requirement, function: str) -> ir.Observer:
    """What a function that needs no reset has stopped stays so as long as it is demanded."""
    demand = required.demand(function)
    over = reset_over(required, function) if required.needs_reset(function) else ir.no(demand)
    field = ir.Field(f"latch of {function}", ("clear", "set"), "clear")
    return ir.Observer(field, ((demand, "set"), (over, "clear")))


def _any_latch(required: Requirement) -> Iterator[ir.Observer]:
    """One latch for all functions, if they are reset alike; else theirs are looked at one by one."""
    names = _resettable(required)
    if names and all(
        required.units_of(name) == required.units
        and required.reset_of(name) == required.reset_of(None)
        and not required.reset_by_supply(name)
        for name in names
    ):
        demands = ir.any_of(required.demand(name) for name in names)
        updates = ((demands, "set"), (lawful_reset(required), "clear"))
        yield ir.Observer(ir.Field(_ANY_LATCH, ("clear", "set"), "clear"), updates)


def _mode_latch(required: Requirement) -> Iterator[ir.Observer]:
    modes = required.bench.required.modes
    if modes is not None and modes.change == "stops":
        updates = ((required.mode_changes(), "set"), (lawful_reset(required), "clear"))
        yield ir.Observer(ir.Field(_MODE_LATCH, ("clear", "set"), "clear"), updates)


def _resettable(required: Requirement) -> list[str]:
    return [name for name in required.functions if required.needs_reset(name)]


def _press_name(required: Requirement, function: str | None) -> str:
    """Functions whose reset is the same button, barred by the same demands, share one observer."""
    button, bars = required.reset_of(function), required.bars(function)
    if button == required.reset_of(None) and bars == required.bars(None):
        return _PRESS
    return f"press of {button} barred by {', '.join(sorted(bars)) or 'nothing'}"


def _press(required: Requirement, function: str | None) -> ir.Observer:
    pressed = required.reset(function)
    updates = (
        (ir.any_of([required.barred(function), ir.no(pressed)]), "none"),
        (ir.rises(pressed), "lawful"),
    )
    return ir.Observer(ir.Field(_press_name(required, function), ("none", "lawful"), "none"), updates)


def _stop_name(required: Requirement, unit: str, stops: list[str]) -> str:
    alone = len(required.stops_of(unit)) == 1
    return f"stop of {unit}" if alone else f"stop of {unit} by {', '.join(stops)}"


def _stop(required: Requirement, unit: str, stops: list[str]) -> ir.Observer:
    demanded = ir.any_of(required.demand(name) for name in stops)
    updates = ((ir.no(required.torque(unit)), "done"), (demanded, "due"))
    return ir.Observer(ir.Field(_stop_name(required, unit, stops), ("done", "due"), "done"), updates)


def _briefly(required: Requirement) -> list[str]:
    return [
        name
        for name, function in required.functions.items()
        if "torque_off" in function.effects
        and not required.needs_reset(name)
        and not required.kind(function.demand).guard
    ]


def _brief_name(function: str, unit: str) -> str:
    return f"stop of {unit} by {function} alone"


def _brief(required: Requirement, function: str, unit: str) -> ir.Observer:
    demand = required.demand(function)
    anew = ir.all_of([ir.no(demand), required.held()])
    over = ir.any_of([ir.no(required.torque(unit)), anew, required.mode_changes()])
    return ir.Observer(
        ir.Field(_brief_name(function, unit), ("done", "due"), "done"), ((over, "done"), (demand, "due"))
    )


def _supply_name(function: str, strict: bool) -> str:
    return f"supply after {function}" + (", strict" if strict else "")


def _supplies(required: Requirement) -> Iterator[ir.Observer]:
    for name, function in required.functions.items():
        if function.supply is None:
            continue
        pressed = required.output(function.supply.on_by, "pressed")
        for strict in (False, True):
            field = ir.Field(_supply_name(name, strict), ("free", "barred"), "free")
            held = required.kind(function.supply.on_by).momentary and not strict
            asked = pressed if held else ir.rises(pressed)
            yield ir.Observer(field, ((required.demand(name), "barred"), (asked, "free")))


def _channel_name(function: str, strict: bool) -> str:
    return f"channels of {function}" + (", strict" if strict else "")


def _channels(required: Requirement) -> Iterator[ir.Observer]:
    for name, function in required.functions.items():
        if not required.kind(function.demand).channels:
            continue
        own, itself = _closed(required, name), _closed(required, name, in_any_mode=True)
        yield _pair(_channel_name(name, strict=False), own, _all_closed(required), required.mode_changes())
        yield _pair(_channel_name(name, strict=True), itself, itself)


def _doubt(required: Requirement) -> Iterator[ir.Observer]:
    if any(required.kind(function.demand).channels for function in required.functions.values()):
        yield _pair(_DOUBT, _all_closed(required), _all_closed(required), required.mode_changes())


def _pair(
    name: str, own: tuple[ir.Term, ir.Term], line: tuple[ir.Term, ir.Term], fresh: ir.Term = ir.FALSE
) -> ir.Observer:
    """Whether a device's own two channels came apart, and closed again, while the line saw never both open.

    `fresh`: an event after which nobody holds the two against each other, as a change of mode.
    """
    (first, second), (a, b) = own, line
    apart = ir.any_of([ir.all_of([first, ir.no(second)]), ir.all_of([ir.no(first), second])])
    updates = (
        (ir.any_of([fresh, ir.all_of([ir.no(a), ir.no(b)])]), "agree"),
        (ir.all_of([ir.was(ir.all_of([a, b])), apart]), "apart"),
        (ir.all_of([ir.Was(name, frozenset({"apart"})), a, b]), "disagreed"),
    )
    return ir.Observer(ir.Field(name, ("agree", "apart", "disagreed"), "agree"), updates)


def _closed(required: Requirement, function: str, *, in_any_mode: bool = False) -> tuple[ir.Term, ir.Term]:
    """The first and the second channel of the function's device are closed; without channels, both by demand.

    In a mode in which the function is not required they count as closed, unless `in_any_mode`.
    """
    device = required.functions[function].demand
    aside = ir.FALSE if in_any_mode else ir.no(required.applies(function))
    channels = [
        ir.any_of([aside, required.output(device, channel)]) for channel in required.kind(device).channels
    ]
    closed = channels or [ir.no(required.demand(function))]
    return closed[0], closed[-1]


def _all_closed(required: Requirement) -> tuple[ir.Term, ir.Term]:
    """The first channels of all demanding devices are closed, as if in series, and the second ones."""
    first, second = zip(*(_closed(required, function) for function in required.functions), strict=True)
    return ir.all_of(first), ir.all_of(second)
