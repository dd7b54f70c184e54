"""Whether what is said of modes, units and resets of single functions fits the bench."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.expr import evaluate
from interlock.bench.expr import names as mentioned
from interlock.bench.kind import Kind
from interlock.bench.models import Bench
from interlock.bench.names import Names, unknown
from interlock.bench.refusal import quoted
from interlock.bench.required_models import Function, Modes
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_modes", "check_units"]

_MODES: Final[Path] = ("required", "modes")
_FUNCTIONS: Final[Path] = ("required", "functions")
_TORQUE: Final[Path] = ("required", "effects", "torque_off")
_ALWAYS: Final = "ISO 13850:2015, 4.1.1.2"


def check_modes(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Modes that nothing can select, that go together, or that functions name but the bench has not."""
    modes = bench.required.modes
    if modes is not None:
        yield from _selector(modes, names)
    for name, function in bench.required.functions.items():
        yield from _in_modes((*_FUNCTIONS, name), function, modes, names)
    yield from _units_of_modes(bench, names)
    for mode in () if modes is None else modes.each:
        here = [
            one for one in bench.required.functions.values() if one.in_modes is None or mode in one.in_modes
        ]
        if not any("torque_off" in one.effects for one in here):
            why = "no function takes torque away in this mode"
            instead = "write a function that does, such as that of an enabling button"
            yield Mistake((*_MODES, "each", mode), f"mode {quoted(mode)}", why, instead, at_key=True)


def check_units(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Units and limits of functions that are none of torque_off, and units that no function stops."""
    effects = bench.required.effects
    units = [unit for unit in effects.torque_off.of if names.knows(unit)]
    if names.source.is_broken((*_TORQUE, "of")):
        return
    for unit in effects.torque_off.limits:
        yield from unknown((*_TORQUE, "limits", unit), "unit of torque_off", {unit}, units, at_key=True)
    covered: set[str] = set()
    for name, function in bench.required.functions.items():
        at: Path = (*_FUNCTIONS, name)
        own = units if function.units is None else function.units
        for index, unit in enumerate(function.units or ()):
            yield from unknown((*at, "units", index), "unit of torque_off", {unit}, units)
        for unit in function.limits:
            yield from unknown((*at, "limits", unit), "unit of this function", {unit}, own, at_key=True)
        if "torque_off" in function.effects:
            covered |= set(own)
        elif function.units is not None or function.limits:
            here = "units" if function.units is not None else "limits"
            why = "this function takes no torque away"
            yield Mistake((*at, here), here, why, "add torque_off to its effects, or remove it", at_key=True)
    for index, unit in enumerate(units):
        if unit not in covered and not names.source.holds_broken(_FUNCTIONS):
            why = "no function takes its torque away"
            yield Mistake((*_TORQUE, "of", index), quoted(unit), why, "add it to the units of a function")


def _selector(modes: Modes, names: Names) -> Iterator[Mistake]:
    at: Path = (*_MODES, "by")
    if not names.knows(modes.by):
        yield from unknown(at, "device", {modes.by}, names.devices)
    kind = names.devices.get(modes.by)
    if kind is None:
        return
    ports = {f"{modes.by}.{output}" for output in kind.outputs}
    sound = True
    for name, mode in modes.each.items():
        for port in sorted(mentioned(mode.selected) - ports):
            sound = False
            yield from unknown(
                (*_MODES, "each", name, "selected"), f"output of {quoted(modes.by)}", {port}, ports
            )
    if sound:
        yield from _exclusive(modes, kind)


def _units_of_modes(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Units of a mode that are none of torque_off, or stand there twice."""
    modes, units = bench.required.modes, bench.required.effects.torque_off.of
    if modes is None or names.source.is_broken((*_TORQUE, "of")):
        return
    for name, mode in modes.each.items():
        for index, unit in enumerate(mode.units or ()):
            at: Path = (*_MODES, "each", name, "units", index)
            yield from unknown(at, "unit of torque_off", {unit}, units)
            if unit in (mode.units or ())[:index]:
                yield Mistake(at, quoted(unit), "it stands here twice", "name it once")
    if modes.single_fault_tolerant and not any(map(bench.required.idle_in, modes.each)):
        here = (*_MODES, "single_fault_tolerant")
        why = "every unit may make torque in every mode, so nothing would be judged"
        instead = "remove it, or name under units of a mode those that work in it"
        yield Mistake(here, "single_fault_tolerant", why, instead, at_key=True)


def _exclusive(modes: Modes, kind: Kind) -> Iterator[Mistake]:
    """Each mode is selected in some position of the selector, and no two in one."""
    chosen: dict[str, list[str]] = {name: [] for name in modes.each}
    for state in kind.states:
        shown = {f"{modes.by}.{one}": evaluate(term, state.__eq__) for one, term in kind.outputs.items()}
        here = [name for name, mode in modes.each.items() if evaluate(mode.selected, shown.__getitem__)]
        for name in here:
            chosen[name].append(state)
        if len(here) > 1:
            why = f"in position {quoted(state)} mode {quoted(here[0])} is selected too"
            at: Path = (*_MODES, "each", here[1], "selected")
            yield Mistake(at, f"mode {quoted(here[1])}", why, "write conditions that exclude each other")
    for name, states in chosen.items():
        if not states:
            at = (*_MODES, "each", name, "selected")
            yield Mistake(at, f"mode {quoted(name)}", "no position of the selector selects it", "correct it")


def _in_modes(at: Path, function: Function, modes: Modes | None, names: Names) -> Iterator[Mistake]:
    if function.in_modes is None:
        return
    if modes is None:
        if not names.source.holds_broken(_MODES):
            why = "the bench has no modes"
            yield Mistake(
                (*at, "in_modes"), "in_modes", why, "describe them under required.modes, or remove it", True
            )
        return
    for index, mode in enumerate(function.in_modes):
        yield from unknown((*at, "in_modes", index), "mode", {mode}, modes.each)
        if mode in function.in_modes[:index]:
            yield Mistake((*at, "in_modes", index), quoted(mode), "it stands here twice", "name it once")
    kind = names.devices.get(function.demand)
    if (
        kind is names.kinds.get("emergency_stop")
        and kind is not None
        and set(modes.each) - set(function.in_modes)
    ):
        why = f"an emergency stop acts in every mode ({_ALWAYS})"
        yield Mistake((*at, "in_modes"), "in_modes", why, "remove it", at_key=True)
