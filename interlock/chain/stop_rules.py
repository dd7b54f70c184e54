"""Properties of the stop itself: torque gone at every demand, by each channel and each torque-off input."""

from collections.abc import Iterator

from interlock.chain import ir
from interlock.chain.frame import Frame
from interlock.chain.observers import disagreed, lawful_reset
from interlock.chain.property import NeverLasts, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement

__all__ = ["category_rules", "channel_rules", "input_rules", "torque_rules"]

_CATEGORY = "IEC 60204-1:2016, 9.2.2 (stop categories)"
_STO = "IEC 61800-5-2:2016, 4.2.3.2 (STO)"


def torque_rules(frame: Frame) -> Iterator[Property]:
    """The demand, shown by either channel alone, takes the torque of each unit away."""
    required, name = frame.required, frame.name
    effect, device = required.bench.required.effects.torque_off, frame.device
    for unit in required.units_of(name):
        called, torque = required.name(unit), torque_left(required, unit)
        yield frame.rule(
            "torque_off",
            unit,
            f"takes the torque of the {called} away",
            f"the {called} makes no torque while the demand is present, whichever contact shows it",
            effect.source,
            frame.lasts({called: torque}, required.limit_ns(name, unit)),
            _stopped(frame, unit),
            f"the {{who}} make{{s}} torque although the {device} is {{state}}",
        )


def torque_left(required: Requirement, unit: str) -> ir.Term:
    """The unit makes torque, or may still make some from the charge of a bus although its supply is off."""
    by_charge = [required.enabled(unit), required.charged(unit), ir.no(required.supplied(unit))]
    return ir.any_of([required.torque(unit), ir.all_of(by_charge)])


def input_rules(frame: Frame) -> Iterator[Property]:
    """The demand switches off all torque-off inputs of a unit or none: one alone has no second to rely on.

    Contacts wired straight into the inputs do not move at once: such inputs are judged once each of them has changed.
    """
    required, name = frame.required, frame.name
    device, demanding = frame.device, frame.function.demand
    open_ = [ir.no(required.output(demanding, one)) for one in required.kind(demanding).channels]
    for unit in required.units_of(name):
        called, inputs = required.name(unit), required.kind(unit).off_channels
        if len(inputs) < 2:
            continue
        some_off = ir.any_of(ir.no(required.input(unit, one)) for one in inputs)
        opened = open_ if required.straight(demanding, unit) else []
        fed = {
            f"input {one} of the {called}": ir.all_of([required.input(unit, one), some_off, *opened])
            for one in inputs
        }
        yield frame.rule(
            "torque_off_inputs",
            unit,
            f"switches the torque-off inputs of the {called} together",
            f"if the demand switches one torque-off input of the {called} off, it "
            "switches all of them off, so that none has to do it alone",
            _STO,
            frame.lasts(fed, required.limit_ns(name, unit)),
            _stopped(frame, unit),
            f"{{who}} still permit{{s}} torque although the {device} is {{state}}",
        )


def category_rules(frame: Frame) -> Iterator[Property]:
    """A stop of category 0 removes the torque; a unit that brakes with it first does something else."""
    required, name, function = frame.required, frame.name, frame.function
    if function.stop_category != 0:
        return
    for unit in required.units_of(name):
        braking, called, device = required.braking(unit), required.name(unit), frame.device
        if braking == ir.FALSE:
            continue
        yield frame.rule(
            "stop_category",
            unit,
            f"takes the torque of the {called} away without braking first (stop category 0)",
            f"the {called} does not brake with torque on this demand; a controlled stop is of category 1",
            _CATEGORY,
            NeverStep({called: ir.all_of([required.demand(name), ir.rises(braking)])}),
            (frame.begins(required.torque(unit), f"the {called} makes torque"),),
            f"the {{who}} brake{{s}} with torque, though the {device} asks for stop category 0",
        )


def _stopped(frame: Frame, unit: str) -> tuple[Premise, ...]:
    """The unit is stopped by each channel, in each mode in which the function is required."""
    required, name, function = frame.required, frame.name, frame.function
    channels, device = required.kind(function.demand).channels, frame.device
    torque, running = required.torque(unit), f"the {required.name(unit)} makes torque"
    begins = [frame.begins(torque, running)]
    if channels:
        begins = [
            Premise(
                f"channel {channel} of the {device} opens alone while {running}",
                ir.all_of(
                    [ir.was(torque), required.applies(name), _alone(required, function.demand, channel)]
                ),
            )
            for channel in channels
        ]
    modes = required.bench.required.modes
    if modes is None:
        return tuple(begins)
    return tuple(
        Premise(
            f"{one.what}, in mode '{modes.each[mode].title}'", ir.all_of([required.selected(mode), one.event])
        )
        for mode in required.modes_of(name)
        if unit not in required.bench.required.idle_in(mode)
        for one in begins
    )


def _alone(required: Requirement, device: str, channel: str) -> ir.Term:
    others = (one for one in required.kind(device).channels if one != channel)
    return ir.all_of(
        [ir.falls(required.output(device, channel)), *(required.output(device, one) for one in others)]
    )


def channel_rules(frame: Frame) -> Iterator[Property]:
    """Two channels that disagreed bar torque, even after a reset, until both were seen open."""
    required, name, function = frame.required, frame.name, frame.function
    if function.channels is None:
        return
    device, apart = frame.device, disagreed(name)
    lawful = ir.all_of([apart, lawful_reset(required, name)])
    if not required.needs_reset(name):
        lawful = ir.all_of([apart, ir.no(required.any_demand())])
    for _, units, within_ns in required.by_limit(name):
        yield frame.rule(
            "channels_disagree",
            function.demand,
            "its two channels disagreeing lock the bench out",
            f"once one channel of the {device} has opened and closed alone, torque stays barred, even "
            "after a reset, until both channels were seen open",
            function.channels.source,
            NeverLasts(required.permitted(apart, units), within_ns, apart),
            (Premise(f"a reset follows after one channel of the {device} opened and closed alone", lawful),),
            f"the {{who}} may make torque although one channel of the {device} never opened",
        )
