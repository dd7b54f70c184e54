"""What the requirement speaks of, as truths over all states: demands, torque, permits, buttons, supply."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from interlock.bench import Bench, kinds_of
from interlock.chain import ir
from interlock.chain.arrays import Truths, present
from interlock.chain.requirement import Requirement
from interlock.procedure.faulted import FAULT, SOUND, Faulted

__all__ = ["Features", "features_of", "seen_ports"]


_Position = tuple[int, ...]
"""For each selector, which of its states it is in."""


@dataclass(frozen=True, slots=True)
class Features:
    """One truth for each state of the graph, by function or device; `seen` packs what can be observed."""

    demand: dict[str, Truths]
    torque: dict[str, Truths]
    permit: dict[str, Truths]
    set: Truths  # of references, True where the bench has none
    pressed: dict[str, Truths]  # reset and supply-on buttons
    held: dict[str, Truths]  # every device that demands no stop and falls back when nobody holds it
    supply: dict[str, Truths]  # the main contacts that a function's supply rule names
    live: Truths  # every bus and contactor that an effect names carries supply
    ports: tuple[str, ...]
    seen: NDArray[np.uint64]  # bit n: port n is true
    together: dict[
        _Position, tuple[frozenset[str], ...]
    ]  # in each position of the selectors, units that can run
    # together: no unit can be added to any of these
    selectors: dict[str, tuple[Truths, ...]]  # of each selector, one truth for each of its states

    def running(self, state: int) -> bool:
        """All units run that can run together in the mode, references set, the supply on: what a demand must find."""
        return bool(self.set[state] and self.live[state]) and self.units(state) in self._together(state)

    def units(self, state: int) -> frozenset[str]:
        """The units that make torque."""
        return frozenset(unit for unit, one in self.torque.items() if one[state])

    def situation(self, bench: Bench, state: int) -> str:
        """In which mode the bench runs: selectors and, where not all units can run together, the running ones."""
        kinds = kinds_of(bench)
        parts = [
            f"{name}={list(kinds[bench.devices[name].kind].states)[n]}"
            for name, truths in self.selectors.items()
            for n, one in enumerate(truths)
            if one[state]
        ]
        units = sorted(self.units(state)) if len(self._together(state)) > 1 else []
        return ",".join([*parts, *units])

    def _together(self, state: int) -> tuple[frozenset[str], ...]:
        at = tuple(
            next(n for n, one in enumerate(truths) if one[state]) for truths in self.selectors.values()
        )
        return self.together.get(at, ())

    def left_ready(self, bench: Bench, state: int) -> bool:
        """No demand, no button held, and of each function some unit may be started: every stop has been ended."""
        if any(one[state] for one in (*self.demand.values(), *self.pressed.values(), *self.held.values())):
            return False
        told = [
            [one for unit, one in self.permit.items() if unit in bench.required.units_of(name)]
            for name in bench.required.functions
        ]
        return all(any(one[state] for one in of) for of in told if of)

    def under_load(self, state: int) -> bool:
        """Some unit makes torque."""
        return any(one[state] for one in self.torque.values())


def features_of(bench: Bench, chain: Faulted, rest: NDArray[np.int64]) -> Features:
    """Evaluate once over all states; `rest` tells which state each one comes to rest in."""
    truth_of = present(chain.graph.layout, chain.graph.states)
    person, real = chain.faulty.person, chain.faulty.truth

    def truth(term: ir.Term) -> Truths:
        return truth_of(chain.rename(term))

    rules = {name: one.supply for name, one in person.functions.items() if one.supply is not None}
    buttons = {
        *(person.reset_of(name) for name in (None, *person.functions)),
        *(rule.on_by for rule in rules.values()),
    }
    effects, ports = bench.required.effects, seen_ports(bench)
    every = np.ones(len(chain.graph.states), np.bool_)
    live = [
        f"{one.of}.{port}"
        for one, port in ((effects.contactor_open, "main"), (effects.bus_discharged, "live"))
        if one
    ]
    bits = [
        truth(real.compiled.outputs[port]).astype(np.uint64) << np.uint64(n) for n, port in enumerate(ports)
    ]
    torque = {unit: truth(real.torque(unit)) for unit in real.units}
    references = effects.references_zero
    ready = every if references is None else truth(real.output(references.of, "set"))
    supplied = [truth(real.compiled.outputs[one]) for one in live if _has(real, one)]
    on = np.logical_and.reduce([every, *supplied])
    selectors = {one: _states(bench, one, truth_of) for one in _selectors(bench)}
    still = (rest == np.arange(len(rest))) & truth_of(ir.Now(FAULT, frozenset({SOUND})))
    return Features(
        demand={name: truth(person.demand(name)) for name in person.functions},
        torque=torque,
        permit={unit: truth(real.released(unit)) for unit in real.units if _has(real, f"{unit}.enabled")},
        set=ready,
        pressed={one: truth(person.output(one, "pressed")) for one in buttons},
        held={one: ~truth_of(ir.Now(one, frozenset({start}))) for one, start in _let_go(bench)},
        supply={name: truth(real.output(rule.of, "main")) for name, rule in rules.items()},
        live=on,
        ports=ports,
        seen=np.bitwise_or.reduce(bits) if bits else np.zeros(len(every), np.uint64),
        together=_together(torque, list(selectors.values()), still & ready & on),
        selectors=selectors,
    )


def _together(
    torque: dict[str, Truths], selectors: list[tuple[Truths, ...]], where: Truths
) -> dict[_Position, tuple[frozenset[str], ...]]:
    units, rows = list(torque), np.stack(list(torque.values()))[:, where]
    at = [np.argmax(np.stack(truths)[:, where], axis=0) for truths in selectors]
    found: dict[_Position, set[frozenset[str]]] = {}
    for row in np.unique(np.vstack([*at, rows]).T, axis=0):
        running = frozenset(units[n] for n in np.flatnonzero(row[len(at) :]))
        found.setdefault(tuple(int(one) for one in row[: len(at)]), set()).add(running)
    return {place: _most(sets) for place, sets in found.items()}


def _most(sets: set[frozenset[str]]) -> tuple[frozenset[str], ...]:
    most = [one for one in sets if one and not any(one < other for other in sets)]
    return tuple(sorted(most, key=sorted))


def _states(bench: Bench, device: str, truth_of: Callable[[ir.Term], Truths]) -> tuple[Truths, ...]:
    states = kinds_of(bench)[bench.devices[device].kind].states
    return tuple(truth_of(ir.Now(device, frozenset({state}))) for state in states)


def _let_go(bench: Bench) -> Iterator[tuple[str, str]]:
    """Buttons, and the state in which nobody holds them; what stops when it is let go is held on purpose."""
    kinds = kinds_of(bench)
    for name, device in bench.devices.items():
        kind = kinds[device.kind]
        if kind.momentary and kind.demand is None:
            yield name, kind.start


def _selectors(bench: Bench) -> Iterator[str]:
    """Devices that stay as a person puts them and ask for nothing: key switches and the like, which select a mode."""
    kinds, required = kinds_of(bench), bench.required
    supply_on = {one.supply.on_by for one in required.functions.values() if one.supply is not None}
    for name, device in bench.devices.items():
        kind = kinds[device.kind]
        acts = any(step.act is not None for step in kind.transitions)
        resets = {required.reset.by, *(one.reset_by for one in required.functions.values())}
        asked = kind.demand is not None or kind.momentary or name in {*resets, *supply_on}
        if acts and not asked and not kind.inputs:
            yield name


def seen_ports(bench: Bench) -> tuple[str, ...]:
    """The outputs that a person or a log can tell: those shown, and those of units, contactor, bus and references.

    At most 64, shown ones first.
    """
    kinds = kinds_of(bench)

    def outputs(device: str) -> list[str]:
        return [f"{device}.{output}" for output in kinds[bench.devices[device].kind].outputs]

    effects = bench.required.effects
    stated = [getattr(effects, name) for name in type(effects).model_fields]
    named = [device for one in stated if one for device in (one.of if isinstance(one.of, list) else [one.of])]
    if bench.shows is None:
        return tuple(dict.fromkeys(port for device in named for port in outputs(device)))[:64]
    every = {port for device in bench.devices for port in outputs(device)}
    states = [port for port in bench.shows.states if port in every]
    values = [port for one in bench.shows.values for port in outputs(one.partition(".")[0])]
    return tuple(dict.fromkeys([*states, *values]))[:64]


def _has(real: Requirement, port: str) -> bool:
    return port in real.compiled.outputs
