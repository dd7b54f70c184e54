"""What the requirement must remember of the way: latches, presses of reset and supply-on, channels.

An observer is computed from demands and buttons as their kinds state them, never from the wiring.
"""

from collections.abc import Iterable, Iterator

from interlock.chain import ir
from interlock.chain.requirement import Requirement, falls, rises

__all__ = [
    "channels_in_doubt",
    "disagreed",
    "latched",
    "lawful_reset",
    "needed",
    "observers",
    "stop_due",
    "supply_barred",
    "unreset",
]

_PRESS = "press of reset"
_ANY_LATCH = "latch of any function"
_DOUBT = "channels in series"


def observers(required: Requirement) -> tuple[ir.Observer, ...]:
    """Every observer that the bench's properties need; later ones may look at earlier ones."""
    latches = {name: required.demand(name) for name in required.functions}
    return (
        *(_latch(required, f"latch of {name}", demand) for name, demand in latches.items()),
        _latch(required, _ANY_LATCH, required.any_demand()),
        _press(required),
        *_supplies(required),
        *_channels(required),
        *_doubt(required),
        *(_stop(required, unit) for unit in required.units),
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


def unreset() -> ir.Term:
    """Some function was demanded and no lawful reset has followed."""
    return ir.Now(_ANY_LATCH, frozenset({"set"}))


def stop_due(unit: str) -> ir.Term:
    """A stop was demanded while the unit made torque, and its torque was not seen off since."""
    return ir.Now(f"stop of {unit}", frozenset({"due"}))


def lawful_reset(required: Requirement) -> ir.Term:
    """The event ends a press of reset that began, and went on, without any demand."""
    return ir.all_of(
        [
            ir.Was(_PRESS, frozenset({"lawful"})),
            falls(required.reset()),
            ir.no(required.any_demand()),
        ]
    )


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


def _latch(required: Requirement, name: str, demand: ir.Term) -> ir.Observer:
    updates = ((demand, "set"), (lawful_reset(required), "clear"))
    return ir.Observer(ir.Field(name, ("clear", "set"), "clear"), updates)


def _press(required: Requirement) -> ir.Observer:
    pressed = required.reset()
    updates = (
        (ir.any_of([required.any_demand(), ir.no(pressed)]), "none"),
        (rises(pressed), "lawful"),
    )
    return ir.Observer(ir.Field(_PRESS, ("none", "lawful"), "none"), updates)


def _stop(required: Requirement, unit: str) -> ir.Observer:
    torque = required.torque(unit)
    demands = [
        required.demand(name)
        for name, function in required.functions.items()
        if "torque_off" in function.effects
    ]
    updates = ((ir.no(torque), "done"), (ir.any_of(demands), "due"))
    return ir.Observer(ir.Field(f"stop of {unit}", ("done", "due"), "done"), updates)


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
            asked = pressed if held else rises(pressed)
            yield ir.Observer(field, ((required.demand(name), "barred"), (asked, "free")))


def _channel_name(function: str, strict: bool) -> str:
    return f"channels of {function}" + (", strict" if strict else "")


def _channels(required: Requirement) -> Iterator[ir.Observer]:
    for name, function in required.functions.items():
        if not required.kind(function.demand).channels:
            continue
        own = _closed(required, name)
        yield _pair(_channel_name(name, strict=False), own, _all_closed(required))
        yield _pair(_channel_name(name, strict=True), own, own)


def _doubt(required: Requirement) -> Iterator[ir.Observer]:
    if any(required.kind(function.demand).channels for function in required.functions.values()):
        yield _pair(_DOUBT, _all_closed(required), _all_closed(required))


def _pair(name: str, own: tuple[ir.Term, ir.Term], line: tuple[ir.Term, ir.Term]) -> ir.Observer:
    """Whether a device's own two channels came apart, and closed again, while the line saw never both open."""
    (first, second), (a, b) = own, line
    apart = ir.any_of([ir.all_of([first, ir.no(second)]), ir.all_of([ir.no(first), second])])
    updates = (
        (ir.all_of([ir.no(a), ir.no(b)]), "agree"),
        (ir.all_of([ir.was(ir.all_of([a, b])), apart]), "apart"),
        (ir.all_of([ir.Was(name, frozenset({"apart"})), a, b]), "disagreed"),
    )
    return ir.Observer(ir.Field(name, ("agree", "apart", "disagreed"), "agree"), updates)


def _closed(required: Requirement, function: str) -> tuple[ir.Term, ir.Term]:
    """The first and the second channel of the function's device are closed; without channels, both by demand."""
    device = required.functions[function].demand
    channels = [required.output(device, channel) for channel in required.kind(device).channels]
    closed = channels or [ir.no(required.demand(function))]
    return closed[0], closed[-1]


def _all_closed(required: Requirement) -> tuple[ir.Term, ir.Term]:
    """The first channels of all demanding devices are closed, as if in series, and the second ones."""
    first, second = zip(*(_closed(required, function) for function in required.functions), strict=True)
    return ir.all_of(first), ir.all_of(second)
