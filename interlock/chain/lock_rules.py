"""Properties of guard locking: a locked guard bars the way to the danger for as long as there is any."""

from collections.abc import Iterator
from typing import Final

from interlock.bench import Function
from interlock.chain import ir
from interlock.chain.frame import Frame
from interlock.chain.property import NeverStep, Premise, Property
from interlock.chain.requirement import Requirement

__all__ = ["danger", "lock_rules"]

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
        NeverStep({device: ir.all_of([required.applies(name), freed, ir.was(moving)])}),
        (Premise(f"the {device} is freed", freed),),
        f"the {{who}} is freed although {said}",
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
