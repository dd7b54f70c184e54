"""Properties of stops by control (category 1), and of what takes its time after the power has gone.

A controlled stop brakes first, and then the power is removed: by a torque-off input or by the supply, not by the
control alone that braked (IEC 60204-1:2016, 9.2.2). Which units can brake is told by the declaration of their kinds.
"""

from collections.abc import Iterator
from typing import Final

from interlock.bench import Function
from interlock.chain import ir
from interlock.chain.property import NeverLasts, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement, falls, rises

__all__ = ["controlled_rules", "discharge_rules", "power_rules", "standstill_rules", "uncontrolled"]

_CATEGORY: Final = "IEC 60204-1:2016, 9.2.2 (stop categories)"


def controlled_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """A unit that can brake does so at a demand of category 1: its torque does not go without that."""
    device, called_for = required.name(function.demand), required.demand(name)
    by_itself = ir.any_of([required.acts_on([function.demand]), required.late()])
    for unit in _braking_units(required, name, function):
        called, torque, braking = required.name(unit), required.torque(unit), required.braking(unit)
        lost = ir.all_of([called_for, by_itself, falls(torque), ir.no(ir.was(braking))])
        yield Property(
            id="stop_category",
            function=name,
            subject=unit,
            title=f"{device}: brakes the {called} before its torque goes (stop category 1)",
            requirement=f"{function.title}: on this demand the {called} brakes by its control, and its torque does not "
            "go before that; a stop without braking is of category 0",
            source=f"{_CATEGORY}; {function.source}",
            claim=NeverStep({called: lost}),
            premises=(Premise(*required.begins(name, torque, f"the {called} makes torque")),),
            complaint=f"the {{who}} lose{{s}} the torque without having braked, though the {device} asks for stop "
            "category 1",
        )


def power_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """After a stop of category 1 a torque-off input or the supply is off in time, whatever the control does."""
    device, called_for = required.name(function.demand), required.demand(name)
    for unit in _braking_units(required, name, function):
        kind, called = required.kind(unit), required.name(unit)
        if not kind.off_channels:
            continue
        needed = [*kind.off_channels, *(("supply",) if "supply" in kind.inputs else ())]
        powered = ir.all_of(required.input(unit, one) for one in needed)
        yield Property(
            id="power_removed",
            function=name,
            subject=unit,
            title=f"{device}: removes the power of the {called} after it has braked (stop category 1)",
            requirement=f"{function.title}: in the time allowed for torque off a torque-off input or the supply of the "
            f"{called} is switched off; its control, which braked it, does not alone keep the torque away",
            source=f"{_CATEGORY}; {function.source}",
            claim=NeverLasts(
                {called: ir.all_of([called_for, powered])}, required.limit_ns(name, unit), called_for
            ),
            premises=(Premise(*required.begins(name, required.torque(unit), f"the {called} makes torque")),),
            complaint="the torque-off inputs and the supply of the {who} stay on although the "
            f"{device} is {{state}}",
        )


def discharge_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """The bus is discharged in time, by the discharge time that the bench states for it."""
    effect, opened = (
        required.bench.required.effects.bus_discharged,
        required.bench.required.effects.contactor_open,
    )
    if effect is None or "live" not in required.kind(effect.of).outputs:
        return
    live, called, device = (
        required.output(effect.of, "live"),
        required.name(effect.of),
        required.name(function.demand),
    )
    counts, since = required.demand(name), f"the demand of the {device}"
    if effect.after == "contactor_open" and opened is not None:
        counts = ir.all_of([counts, ir.no(required.output(opened.of, "main"))])
        since = f"the {required.name(opened.of)} opened"
    yield Property(
        id="bus_discharged_in_time",
        function=name,
        subject=effect.of,
        title=f"{device}: discharges the {called} in time",
        requirement=f"{function.title}: the {called} is discharged in the time allowed since {since}, by the discharge "
        "time that is stated for it",
        source=f"{effect.source}; {function.source}",
        claim=NeverLasts({called: ir.all_of([counts, live])}, effect.within, counts),
        premises=(
            Premise(
                f"the {device} demands the stop while the {called} is live",
                ir.all_of([ir.was(live), rises(required.demand(name))]),
            ),
        ),
        complaint=f"the {{who}} takes longer to discharge than is allowed since {since}",
    )


def standstill_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """A shaft whose time to coast down is stated comes to rest in the time that is required."""
    effect = required.bench.required.effects.standstill
    if effect is None or "still" not in required.kind(effect.of).outputs:
        return
    if "locked" in required.kind(function.demand).outputs:
        return  # it demands nothing before the shaft stands; see `interlock.chain.lock_rules`
    turns, called = ir.no(required.output(effect.of, "still")), required.name(effect.of)
    device, called_for = required.name(function.demand), required.demand(name)
    yield Property(
        id="standstill",
        function=name,
        subject=effect.of,
        title=f"{device}: brings the {called} to rest in time",
        requirement=f"{function.title}: the {called} stands in the time allowed for it, by the time to coast down that "
        "is stated for it",
        source=f"{effect.source}; {function.source}",
        claim=NeverLasts({called: ir.all_of([called_for, turns])}, effect.within, called_for),
        premises=(Premise(*required.begins(name, turns, f"the {called} turns")),),
        complaint=f"the {{who}} does not come to rest in time although the {device} is {{state}}",
    )


def uncontrolled(required: Requirement) -> Iterator[str]:
    """A sentence for each function of category 1 none of whose units brakes in the model."""
    for name, function in required.functions.items():
        wanted = function.stop_category == 1 and "torque_off" in function.effects
        if wanted and not list(_braking_units(required, name, function)):
            yield (
                f"Stop category 1 is required of '{function.title}', and the kinds of its units know no braking: that "
                "the stop is controlled is not shown here. Describe a unit that brakes by a kind that says so "
                "(drive_ramp_stop, drive_stop_input), or show it apart."
            )


def _braking_units(required: Requirement, name: str, function: Function) -> Iterator[str]:
    if function.stop_category == 1:
        yield from (unit for unit in required.units_of(name) if required.braking(unit) != ir.FALSE)
