"""What must be observed at a step, in words, with the limits that the bench file requires."""

import math
from collections.abc import Iterable, Iterator

from interlock.bench import Bench, Function, kinds_of
from interlock.procedure.goals import Goal, GoalKind

__all__ = ["changed", "hold_words", "observed", "start_words", "unchanged", "wait_s"]

_NS = 1_000_000_000
_HOLD_S = 1
"""A button is held this long, so that press and release can be told apart (common practice, no source)."""
_RUN_UP_S = 3
"""At least this long for the shaft to reach test speed and torque (common practice, no source)."""


def observed(bench: Bench, goal: Goal, *, at_rest: bool = False) -> Iterator[str]:
    """What must be seen when the goal is reached; `at_rest`: the bench did not run before."""
    function = bench.required.functions[goal.function]
    units = " and ".join(bench.devices[one].name for one in bench.required.units_of(goal.function))
    match goal.kind:
        case GoalKind.STOP if at_rest:
            guard = bench.devices[function.demand].name
            yield f"the {guard} is freed only now, when nothing makes torque or turns any more; {units}: no torque"
        case GoalKind.STOP:
            if goal.situation:
                yield f"the bench ran in this mode: {goal.situation}"
            yield from _effects(bench, goal.function)
        case GoalKind.SUPPLY_DEAD:
            yield f"the {_supply(bench, function)} stays open all the time"
        case GoalKind.RESET_BARRED:
            yield _nothing_back(bench, goal.function)
        case GoalKind.RELEASE if _starts(bench, function.demand):
            yield f"no torque before: to hold the {bench.devices[function.demand].name} is the start"
        case GoalKind.RELEASE:
            yield _nothing_back(bench, goal.function)
            if function.supply is not None:
                yield f"the {_supply(bench, function)} stays open until supply-on is pressed anew"
        case GoalKind.SUPPLY_ANEW:
            yield f"the {_supply(bench, function)} closes now, and no torque comes by that"
        case GoalKind.PRESS:
            stay = "stay" if len(bench.required.units_of(goal.function)) > 1 else "stays"
            yield f"nothing comes back while the button is held: the {units} {stay} off"
        case GoalKind.RESET:
            yield _reset_only(bench, goal.function)
        case GoalKind.RESTART:
            reset = "" if function.without_reset is not None else ", not by the reset"
            yield f"torque ({units}) comes only now, by the start{reset}"


def _nothing_back(bench: Bench, function: str) -> str:
    units = " and ".join(bench.devices[one].name for one in bench.required.units_of(function))
    enabling = "no enabling, " if _enabled(bench, function) else ""
    reference = ", no reference" if bench.required.effects.references_zero is not None else ""
    return f"nothing comes back: {enabling}no torque ({units}){reference}"


def _reset_only(bench: Bench, function: str) -> str:
    """What a reset may do, and no more."""
    of = bench.required.units_of(function)
    units, make = " and ".join(bench.devices[one].name for one in of), "make" if len(of) > 1 else "makes"
    may = "enabled" if _enabled(bench, function) else "started"
    said = f"the {units} may be {may} now, but {make} no torque"
    return said if bench.required.effects.references_zero is None else f"{said}, and the references stay zero"


def _enabled(bench: Bench, function: str) -> bool:
    """Some unit of the function has an output that tells that it may make torque."""
    kinds = kinds_of(bench)
    return any(
        "enabled" in kinds[bench.devices[one].kind].outputs for one in bench.required.units_of(function)
    )


def _starts(bench: Bench, device: str) -> bool:
    """Who operates the device means to start: its demand ends by that."""
    return kinds_of(bench)[bench.devices[device].kind].starts


def changed(bench: Bench, before: dict[str, str], after: dict[str, str], acted: str) -> tuple[str, ...]:
    """The devices that are in another state, in their kinds' words; not the button or contact acted on itself."""
    kinds = kinds_of(bench)
    own = kinds[bench.devices[acted].kind]
    skipped = acted if own.momentary or own.demand is not None else None
    return tuple(
        f"{described.name}: {kinds[described.kind].states[after[name]]}"
        for name, described in bench.devices.items()
        if before[name] != after[name] and name != skipped
    )


def unchanged(bench: Bench, after: dict[str, str], acted: str) -> str:
    """What to see where no other device reacts: how the one acted on stands, as a lock that must not open."""
    device = bench.devices[acted]
    kind = kinds_of(bench)[device.kind]
    held = "" if kind.momentary else f"; {device.name}: {kind.states[after[acted]]}"
    return f"nothing else changes{held}"


def start_words(bench: Bench, state: dict[str, str]) -> tuple[str, ...]:
    """The state of every device that has more than one, at power-up."""
    kinds = kinds_of(bench)
    return tuple(
        f"{one.name}: {kinds[one.kind].states[state[name]]}"
        for name, one in bench.devices.items()
        if len(kinds[one.kind].states) > 1
    )


def hold_words(act: str, kinds: Iterable[GoalKind], *, button: bool, hold_s: int = _HOLD_S) -> str:
    """The act with how long to hold, where that matters."""
    bare = act[:1].upper() + act[1:]
    return f"{bare} and hold it for {hold_s} s at least" if button or GoalKind.PRESS in set(kinds) else bare


def wait_s(bench: Bench, goals: Iterable[Goal], *, starts: bool, late_ns: int = 0) -> int:
    """Whole seconds to watch before the next act; `late_ns`: as long as the late reactions to this one may take."""
    found = [_HOLD_S + (_RUN_UP_S - _HOLD_S) * starts]
    found += [_stop_s(bench, goal.function) for goal in goals if goal.kind is GoalKind.STOP]
    found += [2 for goal in goals if goal.kind in (GoalKind.RELEASE, GoalKind.RESET)]
    return max(*found, math.ceil((late_ns + _NS // 2) / _NS) if late_ns else 0)


def _stop_s(bench: Bench, function: str) -> int:
    required, effects = bench.required, bench.required.functions[function].effects
    within: list[int] = [getattr(required.effects, effect).within for effect in effects]
    if "torque_off" in effects:
        within += [required.torque_limit_ns(function, unit) for unit in required.units_of(function)]
    first = required.effects.contactor_open
    late = max(within) + (first.within if first is not None and "bus_discharged" in effects else 0)
    return math.ceil(late / _NS) + 1


def _supply(bench: Bench, function: Function) -> str:
    return bench.devices[function.supply.of].name if function.supply is not None else "supply"


def _effects(bench: Bench, which: str) -> Iterator[str]:
    function, name = (
        bench.required.functions[which],
        {one: device.name for one, device in bench.devices.items()},
    )
    effects = bench.required.effects
    for effect in function.effects:
        stated = getattr(effects, effect)
        of = " and ".join(name[one] for one in (stated.of if isinstance(stated.of, list) else [stated.of]))
        within = _ms(stated.within)
        match effect:
            case "torque_off":
                yield from _torque(bench, which)
            case "references_zero":
                yield f"{of} at zero within {within}"
            case "standstill":
                yield f"{of} below {stated.below} within {within}"
            case "contactor_open":
                yield f"{of} open within {within}"
            case "bus_discharged":
                after = "its opening" if stated.after == "contactor_open" else "the demand"
                yield f"{of} at {stated.at_most} or less within {within} after {after}; measure it"
    if function.channels is not None:
        yield f"both channels of the {name[function.demand]} change within {_ms(function.channels.within)}"


def _torque(bench: Bench, function: str) -> Iterator[str]:
    """The units of the function, those of one limit together."""
    limits: dict[int, list[str]] = {}
    for unit in bench.required.units_of(function):
        limits.setdefault(bench.required.torque_limit_ns(function, unit), []).append(bench.devices[unit].name)
    for limit, units in limits.items():
        yield f"no torque: {' and '.join(units)}, within {_ms(limit)}"


def _ms(ns: int) -> str:
    return f"{ns / 1e6:g} ms" if ns < _NS else f"{ns / 1e9:g} s"
