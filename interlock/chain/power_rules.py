"""Properties of stops by control (category 1), and of what takes its time after the power has gone.

A controlled stop brakes first, and then the power is removed: by a torque-off input or by the supply, not by the
control alone that braked (IEC 60204-1:2016, 9.2.2). Which units can brake is told by the declaration of their kinds.
"""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from interlock.chain import ir
from interlock.chain.compile import waits
from interlock.chain.frame import Frame
from interlock.chain.property import NeverLasts, NeverOnSchedule, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement

__all__ = [
    "controlled_rules",
    "cut_short",
    "discharge_rules",
    "power_rules",
    "powered",
    "ramp_begins",
    "ramp_rules",
    "standstill_rules",
    "torque_goes_unbraked",
]

_CATEGORY: Final = "IEC 60204-1:2016, 9.2.2 (stop categories)"
_SS1: Final = "IEC 61800-5-2:2016, 4.2.3.3 (SS1; from memory)"


def controlled_rules(frame: Frame) -> Iterator[Property]:
    """A unit that can brake does so at a demand of category 1: its torque does not go without that."""
    required, name = frame.required, frame.name
    device = frame.device
    for unit in required.braked_by(name):
        called, torque = required.name(unit), required.torque(unit)
        yield frame.rule(
            "stop_category",
            unit,
            f"brakes the {called} before its torque goes (stop category 1)",
            f"on this demand the {called} brakes by its control, and its torque does not "
            "go before that; a stop without braking is of category 0",
            _CATEGORY,
            NeverStep({called: torque_goes_unbraked(required, name, unit)}),
            (frame.begins(torque, f"the {called} makes torque"),),
            f"the {{who}} lose{{s}} the torque without having braked, though the {device} asks for stop "
            "category 1",
        )
    yield from _at_once(frame)


def ramp_rules(frame: Frame) -> Iterator[Property]:
    """By the stated times nothing takes the torque of a unit before its braking has come to its own end."""
    required, name = frame.required, frame.name
    for unit in required.braked_by(name):
        called, cut = required.name(unit), cut_short(required, unit)
        takes = ", ".join(f"{one.trigger} {one.delay_ns / 1e6:g} ms" for one in _ramps(required, unit))
        yield frame.rule(
            "ramp_completed",
            unit,
            f"the {called} brakes to the end of its ramp (stop category 1)",
            f"if each delay lasts as long as the bench file states, nothing takes the "
            f"torque of the {called} before it has braked to a standstill",
            f"{_CATEGORY}; {_SS1}",
            NeverOnSchedule({called: cut}, ramp_begins(required, name, unit), required.late([unit])),
            (frame.begins(required.torque(unit), f"the {called} makes torque"),),
            "the {who} lose{s} the torque while it still brakes, by the stated times, and coasts from there: "
            f"what takes it away is set shorter than the ramp ({takes or 'no time stated'})",
        )


def power_rules(frame: Frame) -> Iterator[Property]:
    """After a stop of category 1 a torque-off input or the supply is off in time, whatever the control does."""
    required, name = frame.required, frame.name
    device = frame.device
    for unit in required.braked_by(name):
        called = required.name(unit)
        if not required.kind(unit).off_channels:
            continue
        yield frame.rule(
            "power_removed",
            unit,
            f"removes the power of the {called} after it has braked (stop category 1)",
            f"in the time allowed for torque off a torque-off input or the supply of the "
            f"{called} is switched off; its control, which braked it, does not alone keep the torque away",
            _CATEGORY,
            frame.lasts({called: powered(required, unit)}, required.limit_ns(name, unit)),
            (frame.begins(required.torque(unit), f"the {called} makes torque"),),
            f"the torque-off inputs and the supply of the {{who}} stay on although the {device} is {{state}}",
        )


def discharge_rules(frame: Frame) -> Iterator[Property]:
    """The bus is discharged in time, by the discharge time that the bench states for it."""
    required, name = frame.required, frame.name
    effect, opened = (
        required.bench.required.effects.bus_discharged,
        required.bench.required.effects.contactor_open,
    )
    if effect is None or "live" not in required.kind(effect.of).outputs:
        return
    live, called, device = (
        required.output(effect.of, "live"),
        required.name(effect.of),
        frame.device,
    )
    counts, since = required.demand(name), f"the demand of the {device}"
    if effect.after == "contactor_open" and opened is not None:
        counts = ir.all_of([counts, ir.no(required.closed(opened.of))])
        since = f"the {required.supply_name(opened.of)} opened"
    yield frame.rule(
        "bus_discharged_in_time",
        effect.of,
        f"discharges the {called} in time",
        f"the {called} is discharged in the time allowed since {since}, by the discharge "
        "time that is stated for it",
        effect.source,
        NeverLasts({called: ir.all_of([counts, live])}, effect.within, counts),
        (
            Premise(
                f"the {device} demands the stop while the {called} is live",
                ir.all_of([ir.was(live), ir.rises(required.demand(name))]),
            ),
        ),
        f"the {{who}} takes longer to discharge than is allowed since {since}",
    )


def standstill_rules(frame: Frame) -> Iterator[Property]:
    """A shaft whose time to coast down is stated comes to rest in the time that is required."""
    required, function = frame.required, frame.function
    effect = required.bench.required.effects.standstill
    if effect is None or "still" not in required.kind(effect.of).outputs:
        return
    if "locked" in required.kind(function.demand).outputs:
        return  # it demands nothing before the shaft stands; see `interlock.chain.lock_rules`
    turns, called = ir.no(required.output(effect.of, "still")), required.name(effect.of)
    device = frame.device
    yield frame.rule(
        "standstill",
        effect.of,
        f"brings the {called} to rest in time",
        f"the {called} stands in the time allowed for it, by the time to coast down that is stated for it",
        effect.source,
        frame.lasts({called: turns}, effect.within),
        (frame.begins(turns, f"the {called} turns"),),
        f"the {{who}} does not come to rest in time although the {device} is {{state}}",
    )


def _at_once(frame: Frame) -> Iterator[Property]:
    """Where no unit of the function can brake: the demand itself must not take all torque away at once."""
    required, name = frame.required, frame.name
    units = [(required.name(unit), required.torque(unit)) for unit in required.units_of(name)]
    if frame.function.stop_category != 1 or required.braked_by(name) or not units:
        return
    called = " and ".join(one for one, _ in units)
    by_act = [required.demand(name), required.acts_on([frame.function.demand])]
    rule = frame.rule(
        "stop_category",
        None,
        "does not take all torque away at once (stop category 1)",
        f"on this demand a unit brakes by its control before its torque goes; all torque of the {called} gone "
        "at once is a stop of category 0",
        _CATEGORY,
        NeverStep({called: ir.all_of([*by_act, *(ir.falls(torque) for _, torque in units)])}),
        (frame.begins(ir.all_of(torque for _, torque in units), f"there is torque of the {called}"),),
        f"all torque of the {{who}} goes at once and no unit brakes, though the {frame.device} asks for stop "
        "category 1",
    )
    undecided = (
        "the torque goes later than the demand, but the kinds of these units know no braking, so that the stop is "
        "controlled is not shown. Describe a unit that brakes by a kind that says so (drive_ramp_stop, "
        "drive_stop_input, or braking in a kind of your own), or state stop category 0."
    )
    yield replace(rule, undecided=undecided)


def torque_goes_unbraked(
    required: Requirement, name: str, unit: str, demanded: ir.Term | None = None
) -> ir.Term:
    """The function's device, or a late reaction while it is `demanded`, takes the torque of an unbraked unit."""
    called_for = required.demand(name)
    by_act = ir.all_of([called_for, required.acts_on([required.functions[name].demand])])
    late = ir.all_of([called_for if demanded is None else demanded, required.late()])
    torque, braking = required.torque(unit), required.braking(unit)
    return ir.all_of([ir.any_of([by_act, late]), ir.falls(torque), ir.no(ir.was(braking))])


def ramp_begins(person: Requirement, name: str, unit: str) -> ir.Term:
    """The unit begins to brake while the function is demanded."""
    return ir.all_of([person.demand(name), ir.rises(person.braking(unit))])


def cut_short(truth: Requirement, unit: str) -> ir.Term:
    """The torque of the unit goes, and not by the end of its ramp, which is still to come."""
    still = ir.any_of(ir.was(waits(one)) for one in _ramps(truth, unit))
    goes = ir.falls(truth.torque(unit))
    return ir.all_of([ir.was(truth.braking(unit)), still, goes, ir.no(truth.late([unit]))])


def _ramps(truth: Requirement, unit: str) -> list[ir.Event]:
    events = truth.compiled.chain.events
    return [one for one in events if one.device == unit and one.kind is ir.EventKind.LATE]


def powered(truth: Requirement, unit: str) -> ir.Term:
    """All torque-off inputs of the unit, and its supply if it has one, are on."""
    kind = truth.kind(unit)
    needed = [*kind.off_channels, *(("supply",) if "supply" in kind.inputs else ())]
    return ir.all_of(truth.input(unit, one) for one in needed)
