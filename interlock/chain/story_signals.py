"""The signals that may matter in a counterexample, in words: demands, buttons, memories, effects, outputs."""

from collections.abc import Callable, Iterator

from interlock.chain import ir
from interlock.chain.compile import waits
from interlock.chain.observers import disagreed, latched, mode_changed, stop_due, supply_barred
from interlock.chain.requirement import Requirement
from interlock.chain.story import Candidate, Part

__all__ = ["candidates"]


def candidates(
    person: Requirement,
    truth: Requirement,
    unreset: Callable[[str], ir.Term] = latched,
    unit: str | None = None,
) -> Iterator[Candidate]:
    """Every signal that a story may show. `person`: what people do; `truth`: what the devices make of it.

    On the sound bench both are the same. `unreset`: a function's stop was demanded and not reset yet. `unit`: the
    device that is judged; if it is a unit, its torque-off inputs belong into the picture.
    """
    yield from _demands(person, truth)
    yield from _buttons(person)
    yield from _modes(person)
    yield from _memories(person, unreset)
    yield from _inputs(truth, unit)
    yield from _effects(person, truth)
    yield from _delays(truth)
    yield from _others(person, truth)


def _demands(person: Requirement, truth: Requirement) -> Iterator[Candidate]:
    for name, function in person.functions.items():
        device = function.demand
        called, channels = person.name(device), person.kind(device).channels
        yield Candidate(Part.DEMAND, device, f"{called} demands the stop", person.demand(name))
        for one in channels:
            yield _output(Part.CONTACT, device, one, f": contact {one} closed", person, truth)


def _buttons(person: Requirement) -> Iterator[Candidate]:
    resets = [person.reset_of(None), *map(person.reset_of, person.functions)]
    supplies = [one.supply.on_by for one in person.functions.values() if one.supply is not None]
    for device in dict.fromkeys([*resets, *supplies]):
        pressed = person.output(device, "pressed")
        yield Candidate(Part.BUTTON, device, f"{person.name(device)} pressed", pressed)


def _modes(person: Requirement) -> Iterator[Candidate]:
    if (modes := person.bench.required.modes) is not None:
        for name in modes.each:
            yield Candidate(Part.MODE, modes.by, f"mode {name} selected", person.selected(name))


def _memories(person: Requirement, unreset: Callable[[str], ir.Term]) -> Iterator[Candidate]:
    for name, function in person.functions.items():
        device, called = function.demand, person.name(function.demand)
        if person.needs_reset(name):
            yield Candidate(Part.MEMORY, device, f"stop by {called} not reset yet", unreset(name))
        if function.supply is not None:
            words = f"{person.name(function.supply.on_by)} not pressed anew"
            yield Candidate(Part.MEMORY, function.supply.of, words, supply_barred(name))
        if function.channels is not None:
            words = f"{called}: one channel never opened"
            yield Candidate(Part.MEMORY, device, words, disagreed(name))
    modes = person.bench.required.modes
    if modes is not None and modes.change == "stops":
        yield Candidate(Part.MEMORY, modes.by, "change of mode not reset yet", mode_changed())
    for unit in person.units:
        words = f"stop of {person.name(unit)} not carried out"
        yield Candidate(Part.MEMORY, unit, words, stop_due(person, unit))


def _inputs(truth: Requirement, unit: str | None) -> Iterator[Candidate]:
    if unit is not None and unit in truth.units:
        for one in truth.kind(unit).off_channels:
            yield Candidate(Part.INPUT, unit, f"{truth.name(unit)}: input {one} on", truth.input(unit, one))


def _effects(person: Requirement, truth: Requirement) -> Iterator[Candidate]:
    for unit in person.units:
        if "enabled" in truth.kind(unit).outputs:
            yield _output(Part.EFFECT, unit, "enabled", "may make torque", person, truth)
        yield _output(Part.EFFECT, unit, "torque", "makes torque", person, truth)
    for device, output, words in dict.fromkeys(_other_effects(person)):
        if output in truth.kind(device).outputs:
            yield _output(Part.EFFECT, device, output, words, person, truth)


def _other_effects(person: Requirement) -> Iterator[tuple[str, str, str]]:
    """Device, output, what it says; the output need not be there."""
    effects = person.bench.required.effects
    if effects.references_zero is not None:
        yield effects.references_zero.of, "set", "are set"
    if effects.contactor_open is not None:
        yield from ((one, "main", "is closed") for one in person.in_series(effects.contactor_open.of))
    if effects.bus_discharged is not None:
        yield effects.bus_discharged.of, "live", "is live"
    if effects.standstill is not None:
        yield effects.standstill.of, "still", "shows standstill"
    for one in person.functions.values():
        yield one.demand, "locked", "is locked"
        if one.supply is not None:
            yield from ((each, "main", "is closed") for each in person.in_series(one.supply.of))


def _delays(truth: Requirement) -> Iterator[Candidate]:
    for event in truth.compiled.chain.events:
        if event.kind is ir.EventKind.LATE:
            words = f"{truth.name(event.device)}: {event.trigger.replace('_', ' ')} under way"
            yield Candidate(Part.DELAY, event.device, words, waits(event))


def _others(person: Requirement, truth: Requirement) -> Iterator[Candidate]:
    for device in truth.bench.devices:
        for one in truth.kind(device).inputs:
            words = f"{person.name(device)}: what reaches {one}"
            yield Candidate(Part.WIRE, device, words, truth.input(device, one), person.input(device, one))
        for output in truth.kind(device).outputs:
            yield _output(Part.OTHER, device, output, f": {output.replace('_', ' ')}", person, truth)


def _output(
    part: Part, device: str, output: str, words: str, person: Requirement, truth: Requirement
) -> Candidate:
    """An output as the devices make it, told apart from what it would be without faults."""
    there, sound = truth.output(device, output), person.output(device, output)
    said = f"{person.name(device)}{words}" if words.startswith(":") else f"{person.name(device)} {words}"
    return Candidate(part, device, said, there, None if there == sound else sound)
