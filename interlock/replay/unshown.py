"""What no log can show, as the bench description does not say how: which entries of it are missing."""

from collections.abc import Iterator

from interlock.bench import kinds_of
from interlock.bench.expr import names
from interlock.replay.modes import MODE_CHANGE
from interlock.replay.observation import Observation
from interlock.replay.resets import button_of, needs_reset

__all__ = ["unshown"]

_STATE_OF = {"torque_off": "torque", "references_zero": "set", "contactor_open": "main"}
_VALUE_OF = {"standstill": "speed", "bus_discharged": "voltage"}


def unshown(seen: Observation, function: str, subject: str, effect: str) -> str | None:
    """Which entries under `shows` the effect of a function cannot be judged without; None: all are there."""
    states = [f"'{port}'" for port in dict.fromkeys(_states(seen, function, subject, effect))]
    value = f"{subject}.{_VALUE_OF[effect]}" if effect in _VALUE_OF else None
    values = [] if value is None or value in seen.shows.values else [f"'{value}'"]
    wanted = [
        f"{' and '.join(ports)} under shows, {section}"
        for section, ports in (("states", states), ("values", values))
        if ports
    ]
    if not wanted:
        return None
    return f"the bench file does not say how this shows itself in a log; add {', and '.join(wanted)}"


def _states(seen: Observation, function: str, subject: str, effect: str) -> Iterator[str]:
    shown, required = seen.shows.states, seen.bench.required
    yield from (port for port in _of_demand(seen, function) if port not in shown)
    yield from (port for port in _of_effect(seen, function, subject, effect) if port not in shown)
    lines = (f"{subject}.enabled", f"{subject}.torque")
    if effect in {"stays_off", "reset_on_release"} and not any(port in shown for port in lines):
        yield lines[0]
    if effect in {"stays_off", "reset_on_release", "restart"} and needs_reset(required, function):
        button = f"{button_of(required, function)}.pressed"
        if button not in shown:
            yield button


def _of_demand(seen: Observation, function: str) -> Iterator[str]:
    """The outputs that tell whether the function is demanded."""
    if function == MODE_CHANGE:
        return
    device = seen.bench.required.functions[function].demand
    demand = kinds_of(seen.bench)[seen.bench.devices[device].kind].demand
    yield from (() if demand is None else sorted(f"{device}.{name}" for name in names(demand)))


def _of_effect(seen: Observation, function: str, subject: str, effect: str) -> Iterator[str]:
    """The outputs that must be shown, whatever else is."""
    if effect in _STATE_OF:
        yield f"{subject}.{_STATE_OF[effect]}"
    if effect == "restart":
        yield f"{subject}.torque"
    if effect == "channels_agree":
        yield from (
            f"{subject}.{one}" for one in kinds_of(seen.bench)[seen.bench.devices[subject].kind].channels
        )
    supply = None if function == MODE_CHANGE else seen.bench.required.functions[function].supply
    if effect in {"supply_on_dead", "supply_stays_off"} and supply is not None:
        yield from (f"{supply.of}.main", f"{supply.on_by}.pressed")
