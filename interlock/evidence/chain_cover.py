"""Do the rated subsystems cover the whole way from demand to effect, as the bench is wired?"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from interlock.bench import Bench, kinds_of
from interlock.bench.bridged import is_bridged
from interlock.bench.expr import names
from interlock.bench.yaml_source import YamlSource
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.inputs_bench import Element, LowDemand
from interlock.rating.inputs_subsystem import Subsystem

__all__ = ["Losing", "between", "uncovered", "uncovered_low_demand"]

_MOST_STEPS: Final = 100_000

Losing = Mapping[tuple[str, str], Collection[str]]
"""By function and effect the devices of which one single fault was found to lose it."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is rated of one function: the devices named, those left out, and where that stands."""

    function: str
    effects: tuple[str, ...]
    rated: frozenset[str]
    left_out: Mapping[str, str]
    place: str


def uncovered(
    bench: Bench, source: YamlSource, inputs: RatingInputs, losing: Losing
) -> Mapping[str, tuple[str, ...]]:
    """By function the reasons why its rated subsystems do not cover the chain; an empty tuple: they do.

    `losing`: by function and effect the devices of which one single fault was found to lose it.
    """
    found = {}
    for name, one in inputs.functions.items():
        place = _place(source, ("rating", "functions", name, "subsystems"))
        asked = _asked(bench, name, one, one.subsystems.values(), place)
        found[name] = tuple(_reasons(bench, asked, losing))
    return found


def uncovered_low_demand(
    bench: Bench, source: YamlSource, inputs: RatingInputs, losing: Losing
) -> Mapping[str, tuple[str, ...]]:
    """The same for the elements of each function that is rated in low demand."""
    found = {}
    for name, one in inputs.low_demand.items():
        place = _place(source, ("rating", "low_demand", name, "elements"))
        asked = _asked(bench, name, one, one.elements.values(), place)
        found[name] = tuple(_reasons(bench, asked, losing))
    return found


def _asked(
    bench: Bench, name: str, given: Function | LowDemand, parts: Iterable[Subsystem | Element], place: str
) -> _Asked:
    """What is asked of a function rated by these parts."""
    rated = frozenset(device for part in parts for device in part.devices)
    return _Asked(name, tuple(given.effects or _required(bench, name)), rated, given.not_rated, place)


def between(bench: Bench, function: str, effects: Collection[str]) -> frozenset[str]:
    """The demanding device, the devices that bring the effects about, and all that lie on a way between them.

    A way follows the wiring from device to device and passes none of them twice; so a contact that only reports back
    to the logic is on none. Where there are too many ways to follow, whatever the demand reaches and reaches the
    effect counts.
    """
    links, start = _links(bench), bench.required.functions[function].demand
    ends = _ends(bench, function, effects)
    found = {start} | ends
    for end in ends:
        found |= _on_a_way(links, start, end)
    return frozenset(found)


def _on_a_way(links: Mapping[str, Collection[str]], start: str, end: str) -> set[str]:
    back: dict[str, set[str]] = {}
    for one, reached in links.items():
        for other in reached:
            back.setdefault(other, set()).add(one)
    useful = _reach(links, {start}) & _reach(back, {end})
    waiting: list[tuple[str, ...]] = [(start,)]
    found, steps = set[str](), 0
    while waiting:
        way = waiting.pop()
        steps += 1
        if steps > _MOST_STEPS:
            return useful
        if way[-1] == end:
            found |= set(way)
            continue
        waiting += [(*way, one) for one in sorted(links.get(way[-1], ())) if one in useful and one not in way]
    return found


def _required(bench: Bench, function: str) -> list[str]:
    stated = bench.required.functions[function]
    return [*stated.effects, *(["supply_stays_off"] if stated.supply is not None else [])]


def _ends(bench: Bench, function: str, effects: Collection[str]) -> set[str]:
    """The devices at the end of the chain; the shaft stands still once its units make no torque."""
    stated, supply = bench.required.effects, bench.required.functions[function].supply
    found: set[str] = set()
    if {"torque_off", "standstill"} & set(effects):
        found |= set(bench.required.units_of(function))
    for name in ("references_zero", "contactor_open", "bus_discharged"):
        effect = getattr(stated, name)
        if name in effects and effect is not None:
            found.add(effect.of)
    if "supply_stays_off" in effects and supply is not None:
        found.add(supply.of)
    main = stated.contactor_open
    return found if main is None or main.of not in found else {*found, *main.in_series}


def _links(bench: Bench) -> dict[str, set[str]]:
    """By device the devices whose inputs its outputs reach."""
    found: dict[str, set[str]] = {}
    for port, expression in bench.wiring.items():
        for name in names(expression):
            found.setdefault(name.partition(".")[0], set()).add(port.partition(".")[0])
    return found


def _reach(links: Mapping[str, Collection[str]], starts: Iterable[str]) -> set[str]:
    found, waiting = set(starts), list(starts)
    while waiting:
        new = set(links.get(waiting.pop(), ())) - found
        found |= new
        waiting += new
    return found


def _reasons(bench: Bench, asked: _Asked, losing: Losing) -> Iterator[str]:
    demand, said = bench.required.functions[asked.function].demand, _listed(asked.effects)
    decisive = {one for effect in asked.effects for one in losing.get((asked.function, effect), ())}
    wanted = between(bench, asked.function, asked.effects) | decisive
    start = bench.devices[demand].name
    if missing := wanted - asked.rated - set(asked.left_out):
        yield (
            f"part of the chain between the {start} and {said} is not rated: {_called(bench, missing)}; name it under "
            f"devices of what is rated, or under not_rated with the reason ({asked.place})"
        )
    if wrong := decisive & set(asked.left_out):
        yield (
            f"a single fault loses {said}, so it cannot be left out under not_rated: {_called(bench, wrong)} "
            f"({asked.place})"
        )
    elif cut := list(_cut(bench, asked, demand)):
        yield (
            f"without the devices under not_rated no way leads from the {start} to {_listed(cut)}: they cannot be left "
            f"out, rate them ({asked.place})"
        )


def _called(bench: Bench, devices: Collection[str]) -> str:
    return ", ".join(f"{bench.devices[one].name} ({one})" for one in bench.devices if one in devices)


def _cut(bench: Bench, asked: _Asked, demand: str) -> Iterator[str]:
    """The devices at the end of the chain that the demand no longer reaches without those left out."""
    kept = {
        one: reached - set(asked.left_out)
        for one, reached in _links(bench).items()
        if one not in asked.left_out
    }
    reached = set() if demand in asked.left_out else _reach(kept, {demand})
    reached |= {one for one in asked.left_out if _only_fed(bench, one) and _fed_from(bench, one) & reached}
    ends = _ends(bench, asked.function, asked.effects)
    yield from (bench.devices[one].name for one in bench.devices if asked.left_out and one in ends - reached)


def _only_fed(bench: Bench, unit: str) -> bool:
    """No torque-off input of the unit takes part: what feeds it is the last part of the function, as with a motor."""
    kind = kinds_of(bench)[bench.devices[unit].kind]
    return unit in bench.required.effects.torque_off.of and (not kind.off_channels or is_bridged(bench, unit))


def _fed_from(bench: Bench, unit: str) -> set[str]:
    """The devices whose outputs reach the unit."""
    return {one for one, reached in _links(bench).items() if unit in reached}


def _listed(found: Iterable[str]) -> str:
    return ", ".join(one.replace("_", " ") for one in found)


def _place(source: YamlSource, path: tuple[str, ...]) -> str:
    """File name, line and column; the folder is left out, so that the result is the same elsewhere."""
    problem = source.problem(path, "", "", "", at_key=True)
    return f"{problem.file.replace(chr(92), '/').rpartition('/')[2]}:{problem.line}:{problem.column}"
