"""Whether the parts of a bench description fit each other: devices, wiring, and what is said of them."""

from collections.abc import Iterator

from interlock.bench.expr import names as mentioned
from interlock.bench.fault_check import check_cables, check_exclusions
from interlock.bench.models import Bench
from interlock.bench.names import Names, unknown
from interlock.bench.plan_check import check_plan
from interlock.bench.rating_check import check_ratings
from interlock.bench.refusal import near_words, quoted
from interlock.bench.required_check import check_required
from interlock.bench.series_check import check_series
from interlock.bench.shows_check import check_shows
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_bench", "required_devices"]


def check_bench(bench: Bench, names: Names) -> list[Mistake]:
    """Every reference of a bench to something that it does not have, and every input left open."""
    return [
        *_devices(bench, names),
        *_wiring(bench, names),
        *_unwired(bench, names),
        *_idle(bench, names),
        *check_required(bench, names),
        *check_cables(bench, names),
        *check_series(bench, names),
        *check_exclusions(bench, names),
        *check_plan(bench, names),
        *check_ratings(bench, names),
        *([] if bench.shows is None else check_shows(bench.shows, names)),
    ]


def _devices(bench: Bench, names: Names) -> Iterator[Mistake]:
    for name, device in bench.devices.items():
        at: Path = ("devices", name)
        if not names.source.is_broken(("kinds",)) and not names.source.is_broken(("kinds", device.kind)):
            yield from unknown((*at, "kind"), "device kind", {device.kind}, names.kinds)
        if name not in names.devices:
            continue
        needed = names.devices[name].delays
        for extra in set(device.delays) - set(needed):
            yield from unknown((*at, "delays", extra), "delay", {extra}, needed, at_key=True)
        for missing in sorted(set(needed) - set(device.delays)):
            if not near_words(missing, device.delays) and not names.source.is_broken((*at, "delays")):
                why = f"a {device.kind} needs the delay {quoted(missing)}"
                yield Mistake(
                    at, f"device {quoted(name)}", why, f"add 'delays: {{{missing}: 50 ms}}'", at_key=True
                )
    yield from _same_name(bench)


def _same_name(bench: Bench) -> Iterator[Mistake]:
    first: dict[str, str] = {}
    for name, device in bench.devices.items():
        other = first.setdefault(" ".join(device.name.casefold().split()), name)
        if other != name:
            why = f"device {quoted(other)} has this name too, and people go by it"
            yield Mistake(("devices", name, "name"), f"name {quoted(device.name)}", why, "choose another")


def _idle(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Stop devices and buttons that nothing reads, and that nothing is said of: left over, or forgotten.

    A device that is asked something of, and whose contact is wired nowhere, is for the chain to find fault with. So
    is a relay whose contacts are not used: that is how the bench may be built.
    """
    wired = {port.partition(".")[0] for port in bench.wiring}
    wired |= {name.partition(".")[0] for expr in bench.wiring.values() for name in mentioned(expr)}
    shown = set() if bench.shows is None else {*bench.shows.states, *bench.shows.values}
    spoken_of = wired | {port.partition(".")[0] for port in shown} | required_devices(bench)
    if names.source.holds_broken(("wiring",)) or names.source.holds_broken(("required",)):
        return
    for device, kind in names.devices.items():
        if device not in spoken_of and (kind.demand is not None or kind.momentary):
            outputs = " or ".join(f"{device}.{one}" for one in kind.outputs)
            why = f"nothing reads {outputs}, and nothing is required of it"
            instead = "wire it, name it where it is required, or remove it"
            yield Mistake(("devices", device), f"device {quoted(device)}", why, instead, at_key=True)


def required_devices(bench: Bench) -> set[str]:
    """Every device that the required section names."""
    required, effects = bench.required, bench.required.effects
    found = {required.reset.by, *effects.torque_off.of}
    stated = (effects.references_zero, effects.standstill, effects.contactor_open, effects.bus_discharged)
    found |= {one.of for one in stated if one is not None}
    found |= set() if effects.contactor_open is None else {*effects.contactor_open.in_series}
    if required.modes is not None:
        found.add(required.modes.by)
    for function in required.functions.values():
        found |= {function.demand, *(() if function.reset_by is None else (function.reset_by,))}
        found |= set() if function.supply is None else {function.supply.of, function.supply.on_by}
    return found


def _wiring(bench: Bench, names: Names) -> Iterator[Mistake]:
    inputs = names.ports(lambda kind: kind.inputs)
    outputs = names.ports(lambda kind: kind.outputs)
    for port, expr in bench.wiring.items():
        at: Path = ("wiring", port)
        yield from names.strays(at, "input", {port}, inputs, at_key=True)
        yield from names.strays(at, "output", mentioned(expr), outputs)


def _unwired(bench: Bench, names: Names) -> Iterator[Mistake]:
    inputs = names.ports(lambda kind: kind.inputs)
    if names.source.is_broken(("wiring",)):
        return
    written = {str(path[1]) for path in names.source.keys if path[:1] == ("wiring",) and len(path) == 2}
    misspelt = written - inputs
    for device, kind in names.devices.items():
        for needed, default in kind.inputs.items():
            port = f"{device}.{needed}"
            if default is None and port not in bench.wiring and not near_words(port, misspelt, 0.8):
                why = f"its input {quoted(needed)} is not wired"
                instead = f"add '{port}: ...' under wiring"
                yield Mistake(("devices", device), f"device {quoted(device)}", why, instead, at_key=True)
