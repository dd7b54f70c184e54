"""Properties of guard locking: a locked guard bars the way to the danger for as long as there is any."""

from collections.abc import Iterator
from typing import Final

from interlock.bench import Function
from interlock.bench.expr import names
from interlock.chain import ir
from interlock.chain.compile import waits
from interlock.chain.frame import Frame
from interlock.chain.property import NeverStep, Premise, Property, Timer
from interlock.chain.requirement import Requirement

__all__ = ["danger", "lock_rules", "timers"]

_LOCKING: Final = "ISO 14119:2013, 4.3 and 5.7 (guard locking; from memory)"


def lock_rules(frame: Frame) -> Iterator[Property]:
    """A guard with locking is freed only at standstill, or, where no device tells that, without torque."""
    required, name, function = frame.required, frame.name, frame.function
    guard, device = function.demand, frame.device
    if "locked" not in required.kind(guard).outputs:
        return
    freed, (moving, said, still) = ir.falls(required.output(guard, "locked")), danger(function, required)
    yield frame.rule(
        "locked_until_standstill",
        guard,
        f"stays locked until {still}",
        f"the {device} is not freed while {said}",
        _LOCKING,
        NeverStep(
            {device: ir.all_of([required.applies(name), freed, ir.was(moving)])}, timers(function, required)
        ),
        (Premise(f"the {device} is freed", freed),),
        f"the {{who}} is freed although {said}{_too_short(function, required)}",
    )


def _too_short(function: Function, required: Requirement) -> str:
    """What a timer on the way to the lock must be like, if there is one; only words are chosen by the wiring."""
    way, waiting = {function.demand}, [function.demand]
    while waiting:
        device = waiting.pop()
        wires = (wire for port, wire in required.bench.wiring.items() if port.partition(".")[0] == device)
        found = {port.partition(".")[0] for wire in wires for port in names(wire)} - way
        way, waiting = way | found, [*waiting, *found]
    shaft = required.bench.required.effects.standstill
    aside = {function.demand, *required.units, *(() if shaft is None else (shaft.of,))}
    late = [one for one in required.compiled.chain.events if one.kind is ir.EventKind.LATE]
    if shaft is None or not any(one.device in way - aside for one in late):
        return ""
    run_down = sum(one.delay_ns for one in late if one.device == shaft.of) / 1e9
    needed = f"takes longer than the run-down of {run_down:g} s"
    return (
        f" (a timer keeps it locked only if it starts no sooner than the drive goes off and {needed})"
        if run_down
        else ""
    )


def timers(function: Function, person: Requirement, truth: Requirement | None = None) -> tuple[Timer, ...]:
    """The late reactions that take longer than the stated run-down of the shaft; none where none is stated."""
    effect, moving = person.bench.required.effects.standstill, danger(function, person, truth)[0]
    if (
        effect is None
        or "standstill" not in function.effects
        or "still" not in person.kind(effect.of).outputs
    ):
        return ()
    events = (truth or person).compiled.chain.events
    late = [(at, one) for at, one in enumerate(events) if one.kind is ir.EventKind.LATE]
    runs_down = [one for _, one in late if one.device == effect.of]
    if not runs_down:
        return ()
    run_down_ns = sum(one.delay_ns for one in runs_down)
    driven = ir.all_of([moving, *(ir.no(waits(one)) for one in runs_down)])
    return tuple(
        Timer(at, waits(one), moving, driven, one.delay_ns, run_down_ns)
        for at, one in late
        if one.device not in {effect.of, *person.units} and one.delay_ns > run_down_ns
    )


def danger(
    function: Function, person: Requirement, truth: Requirement | None = None
) -> tuple[ir.Term, str, str]:
    """A unit makes torque (under faults: in truth) or the shaft turns; how to say so, and how that it is over.

    Whether the shaft turns is told by its state, whatever its monitor shows.
    """
    torque = ir.any_of((truth or person).torque(unit) for unit in person.units)
    effect = person.bench.required.effects.standstill
    if (
        effect is None
        or "standstill" not in function.effects
        or "still" not in person.kind(effect.of).outputs
    ):
        return torque, "a unit makes torque (no device tells when the shaft stands)", "no unit makes torque"
    called, still = person.name(effect.of), person.output(effect.of, "still")
    return ir.any_of([torque, ir.no(still)]), f"the {called} still turns", f"the {called} stands"
