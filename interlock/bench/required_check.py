"""Whether what a bench requires can be asked of what it has."""

from collections.abc import Iterable, Iterator
from typing import Final

from interlock.bench.expr import names as mentioned
from interlock.bench.kind import Kind
from interlock.bench.mode_check import check_modes, check_units
from interlock.bench.models import Bench
from interlock.bench.names import Names, unknown
from interlock.bench.refusal import quoted
from interlock.bench.required_models import Effects, Function
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_required"]

_AT: Final[Path] = ("required",)
_RATINGS: Final[Path] = ("bench", "ratings")

_EFFECT_NEEDS: Final = {
    "torque_off": "output torque",
    "references_zero": "output set",
    "standstill": "value speed",
    "contactor_open": "output main",
    "bus_discharged": "value voltage",
}
"""What the kind of a device must have so that the effect can be asked of it."""


def check_required(bench: Bench, names: Names) -> list[Mistake]:
    """Every requirement on a device that is not there or cannot meet it, and every one that means nothing."""
    required = bench.required
    return [
        *_needs(names, (*_AT, "reset", "by"), [required.reset.by], "output pressed"),
        *_effects(required.effects, names),
        *_in_series(bench, names),
        *_forgotten_units(bench, names),
        *_never_tested(bench),
        *_functions(bench, names),
        *_same_title(bench),
        *check_modes(bench, names),
        *check_units(bench, names),
    ]


def _effects(effects: Effects, names: Names) -> Iterator[Mistake]:
    for effect, need in _EFFECT_NEEDS.items():
        stated = getattr(effects, effect)
        if stated is None:
            continue
        at: Path = (*_AT, "effects", effect, "of")
        devices = stated.of if isinstance(stated.of, list) else [stated.of]
        yield from _needs(names, at, devices, need)
        for index, device in enumerate(devices):
            if device in devices[:index]:
                yield Mistake((*at, index), quoted(device), "it stands here twice", "name it once")


def _in_series(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Contactors that are said to take the supply together, and one through which nothing is fed."""
    stated = bench.required.effects.contactor_open
    if stated is None or not stated.in_series:
        return
    at: Path = (*_AT, "effects", "contactor_open")
    yield from _needs(names, (*at, "in_series"), stated.in_series, "output main")
    every = [stated.of, *stated.in_series]
    for index, device in enumerate(stated.in_series, 1):
        if device in every[:index]:
            yield Mistake((*at, "in_series", index - 1), quoted(device), "it is named before", "name it once")
    fed = set().union(*(mentioned(wire) for wire in bench.wiring.values()))
    places: list[Path] = [(*at, "of"), *((*at, "in_series", index) for index in range(len(stated.in_series)))]
    for place, device in zip(places, every, strict=True):
        there = device in names.devices and "main" in names.devices[device].outputs
        if there and f"{device}.main" not in fed and not names.source.holds_broken(("wiring",)):
            why = f"nothing is fed through {device}.main, so it takes no supply"
            yield Mistake(
                place, quoted(device), why, "wire it into the line that it opens, or do not name it here"
            )


def _forgotten_units(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Devices that make torque although no stop is required to take it away; nothing, if the list is wrong itself."""
    at: Path = (*_AT, "effects", "torque_off", "of")
    units = [name for name, kind in names.devices.items() if "torque" in kind.outputs]
    stated = bench.required.effects.torque_off.of
    if (
        names.source.holds_broken((*_AT, "effects"))
        or not {*stated} <= {*units}
        or len({*stated}) < len(stated)
    ):
        return
    for unit in units:
        if unit not in stated:
            why = "it makes torque, and no stop is required to take it away"
            instead = f"add {unit} under required, effects, torque_off, of"
            yield Mistake(("devices", unit), f"device {quoted(unit)}", why, instead, at_key=True, also=(at,))


def _never_tested(bench: Bench) -> Iterator[Mistake]:
    """A bound that the bench cannot exceed is always met, whatever the stop does."""
    effects, ratings = bench.required.effects, bench.bench.ratings
    bus, still = effects.bus_discharged, effects.standstill
    if bus is not None and bus.at_most.value >= ratings.bus_voltage.value:
        why = f"the bus, rated {ratings.bus_voltage}, is never above {bus.at_most}, so nothing is required"
        at: Path = (*_AT, "effects", "bus_discharged", "at_most")
        yield Mistake(at, "at_most", why, "write a lower voltage", also=((*_RATINGS, "bus_voltage"),))
    if still is not None and still.below.value >= ratings.max_speed.value:
        why = f"the shaft, rated {ratings.max_speed}, is never above {still.below}, so nothing is required"
        at = (*_AT, "effects", "standstill", "below")
        yield Mistake(at, "below", why, "write a lower speed", also=((*_RATINGS, "max_speed"),))


def _functions(bench: Bench, names: Names) -> Iterator[Mistake]:
    effects = bench.required.effects
    stated = {
        name
        for name in _EFFECT_NEEDS
        if getattr(effects, name) is not None or names.source.is_broken((*_AT, "effects", name))
    }
    for name, function in bench.required.functions.items():
        at: Path = (*_AT, "functions", name)
        for index, effect in enumerate(function.effects):
            if effect not in stated:
                why, instead = "required.effects does not state it", "state it there, or remove it here"
                yield Mistake((*at, "effects", index), quoted(effect), why, instead)
            if effect in function.effects[:index]:
                yield Mistake((*at, "effects", index), quoted(effect), "it stands here twice", "name it once")
        bus = effects.bus_discharged if "bus_discharged" in function.effects else None
        if bus is not None and bus.after == "contactor_open" and "contactor_open" not in function.effects:
            why = "bus_discharged counts from contactor_open, which this function lacks"
            yield Mistake((*at, "effects"), "effects", why, "add contactor_open")
        yield from _function(names, at, function)
        yield from _kept(bench, names, at, function)


def _function(names: Names, at: Path, function: Function) -> Iterator[Mistake]:
    yield from _needs(names, (*at, "demand"), [function.demand], "demand")
    yield from _two_channels(names, at, function)
    yield from _category(names, at, function)
    if function.reset_by is not None:
        yield from _needs(names, (*at, "reset_by"), [function.reset_by], "output pressed")
        if function.without_reset is not None:
            why = "the function needs no reset, so it has no button for it"
            yield Mistake((*at, "reset_by"), "reset_by", why, "remove reset_by or without_reset", at_key=True)
    if (supply := function.supply) is not None:
        yield from _needs(names, (*at, "supply", "of"), [supply.of], "output main")
        yield from _needs(names, (*at, "supply", "on_by"), [supply.on_by], "output pressed")


def _two_channels(names: Names, at: Path, function: Function) -> Iterator[Mistake]:
    """A watch for disagreement of a device that has no two contacts of which one can move alone."""
    kind = names.devices.get(function.demand)
    if function.channels is None or kind is None or kind.demand is None or len(kind.channels) == 2:
        return
    fit = sorted(
        name for name, one in names.devices.items() if one.demand is not None and len(one.channels) == 2
    )
    why = f"device {quoted(function.demand)} is of a kind without two channels that could disagree"
    instead = "remove this entry" + (
        f", or let the demand be one that has them: {', '.join(fit)}" if fit else ""
    )
    yield Mistake((*at, "channels"), "channels", why, instead, at_key=True)


def _category(names: Names, at: Path, function: Function) -> Iterator[Mistake]:
    """A category that leaves the power on where the function takes it away, or where it must go."""
    if function.stop_category != 2:
        return
    here: Path = (*at, "stop_category")
    kind = names.devices.get(function.demand)
    if kind is not None and kind is names.kinds.get("emergency_stop"):
        why = "an emergency stop is of category 0 or 1 (ISO 13850:2015, 4.1.4)"
        yield Mistake(here, "stop_category", why, "write 0 or 1")
    elif "torque_off" in function.effects:
        why = "category 2 leaves the power on (IEC 60204-1:2016, 9.2.2), and this function takes the torque away"
        yield Mistake(here, "stop_category", why, "write 0 or 1, or remove torque_off from its effects")


def _kept(bench: Bench, names: Names, at: Path, function: Function) -> Iterator[Mistake]:
    """Parts of a stop of category 1 that no single fault may break, of a function that has no such stop."""
    if not function.single_fault_keeps:
        return
    units = bench.required.effects.torque_off.of if function.units is None else function.units
    kinds = [names.devices[unit] for unit in units if unit in names.devices]
    if function.stop_category != 1 or "torque_off" not in function.effects:
        why = "only a stop of category 1 that takes torque away has these parts"
    elif len(kinds) == len(units) and all(kind.braking is None or not kind.off_channels for kind in kinds):
        why = "no unit of this function is of a kind that brakes and has torque-off inputs: nothing would be judged"
    else:
        return
    instead = (
        "remove it, or describe a unit that brakes (drive_ramp_stop, drive_stop_input) and stop_category: 1"
    )
    yield Mistake((*at, "single_fault_keeps"), "single_fault_keeps", why, instead, at_key=True)


def _same_title(bench: Bench) -> Iterator[Mistake]:
    first: dict[str, str] = {}
    for name, function in bench.required.functions.items():
        other = first.setdefault(" ".join(function.title.casefold().split()), name)
        if other != name:
            why = f"function {quoted(other)} has this title too, and a report goes by it"
            yield Mistake((*_AT, "functions", name, "title"), "title", why, "say what sets this one apart")


def _needs(names: Names, at: Path, devices: Iterable[str], need: str) -> Iterator[Mistake]:
    for index, device in enumerate(devices):
        here = (*at, index)
        if not names.knows(device):
            fit = [name for name, kind in names.devices.items() if _has(kind, need)]
            if fit:
                yield from unknown(here, "device", {device}, fit)
            else:
                why = f"there is no device of this name, and none with {'an' if need[0] in 'aeiou' else 'a'} {need}"
                yield Mistake(here, quoted(device), why, "describe it under devices", word=device)
        elif device in names.devices and not _has(names.devices[device], need):
            fit = sorted(name for name, kind in names.devices.items() if _has(kind, need))
            instead = (
                f"name one that has it: {', '.join(fit)}" if fit else "give the bench a device that has it"
            )
            yield Mistake(here, f"device {quoted(device)}", f"it has no {need}", instead)


def _has(kind: Kind, need: str) -> bool:
    match need.split():
        case ["output", name]:
            return name in kind.outputs
        case ["value", name]:
            return name in kind.values
        case ["demand"]:
            return kind.demand is not None
    raise AssertionError(need)
