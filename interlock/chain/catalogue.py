"""The properties of a bench, in the order in which a reader should meet a violation."""

from collections.abc import Callable, Iterator

from interlock.chain.effect_rules import (
    bus_rules,
    contactor_rules,
    recovery_rules,
    reference_rules,
    references_by_person,
    supply_return_rules,
    supply_rules,
)
from interlock.chain.frame import Frame
from interlock.chain.lock_rules import lock_rules
from interlock.chain.mode_rules import mode_rules
from interlock.chain.power_rules import (
    controlled_rules,
    discharge_rules,
    power_rules,
    ramp_rules,
    standstill_rules,
)
from interlock.chain.property import Property
from interlock.chain.requirement import Requirement
from interlock.chain.restart_rules import (
    brief_rules,
    release_rules,
    reset_rules,
    start_rules,
    stays_off_rules,
    stop_completes,
)
from interlock.chain.stop_rules import category_rules, channel_rules, input_rules, torque_rules

__all__ = ["properties"]

_Rules = Callable[[Frame], Iterator[Property]]


def properties(required: Requirement) -> tuple[Property, ...]:
    """Every property that the bench's required section asks for: effects first, then restarts, then return."""
    return (
        *_each(required, torque_rules, effect="torque_off"),
        *_each(required, input_rules, effect="torque_off"),
        *_each(required, category_rules, effect="torque_off"),
        *_each(required, controlled_rules, effect="torque_off"),
        *_each(required, ramp_rules, effect="torque_off"),
        *_each(required, power_rules, effect="torque_off"),
        *_each(required, lock_rules, effect="torque_off"),
        *_each(required, contactor_rules, effect="contactor_open"),
        *_each(required, supply_rules),
        *_each(required, release_rules, effect="torque_off"),
        *_each(required, reset_rules, effect="torque_off"),
        *_each(required, stays_off_rules, effect="torque_off"),
        *stop_completes(required),
        *_each(required, brief_rules, effect="torque_off"),
        *mode_rules(required),
        *_each(required, channel_rules),
        *_each(required, supply_return_rules),
        *start_rules(required),
        *_each(required, reference_rules, effect="references_zero"),
        *references_by_person(required),
        *_each(required, bus_rules, effect="bus_discharged"),
        *_each(required, discharge_rules, effect="bus_discharged"),
        *_each(required, standstill_rules, effect="standstill"),
        *recovery_rules(required),
    )


def _each(required: Requirement, rules: _Rules, effect: str | None = None) -> Iterator[Property]:
    """What the rules yield for each function that has the effect, one rule after the other."""
    found = [
        one
        for name, function in required.functions.items()
        if effect is None or effect in function.effects
        for one in rules(Frame(required, name))
    ]
    for rule in dict.fromkeys(one.id for one in found):
        yield from (one for one in found if one.id == rule)
