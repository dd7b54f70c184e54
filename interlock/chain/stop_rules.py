"""Properties of the stop itself: torque gone at every demand, by each channel and each torque-off input."""

from collections.abc import Iterator

from interlock.bench import Function
from interlock.chain import ir
from interlock.chain.observers import disagreed, lawful_reset
from interlock.chain.property import NeverLasts, NeverStep, Premise, Property
from interlock.chain.requirement import Requirement, falls, rises

__all__ = ["category_rules", "channel_rules", "input_rules", "torque_rules"]

_CATEGORY = "IEC 60204-1:2016, 9.2.2 (stop categories)"
_STO = "IEC 61800-5-2:2016, 4.2.3.2 (STO)"


def torque_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """The demand, shown by either channel alone, takes the torque of each unit away."""
    effect, device = required.bench.required.effects.torque_off, required.name(function.demand)
    for unit in required.units_of(name):
        called, torque = required.name(unit), required.torque(unit)
        yield Property(
            id="torque_off",
            function=name,
            subject=unit,
            title=f"{device}: takes the torque of the {called} away",
            requirement=f"{function.title}: the {called} makes no torque while the demand is present, "
            "whichever contact shows it",
            source=f"{effect.source}; {function.source}",
            claim=NeverLasts(
                {called: ir.all_of([required.demand(name), torque])},
                required.limit_ns(name, unit),
                required.demand(name),
            ),
            premises=_stopped(required, name, function, unit),
            complaint=f"the {{who}} make{{s}} torque although the {device} is {{state}}",
        )


def input_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """The demand switches off all torque-off inputs of a unit or none: one alone has no second to rely on."""
    device = required.name(function.demand)
    for unit in required.units_of(name):
        called, inputs = required.name(unit), required.kind(unit).off_channels
        if len(inputs) < 2:
            continue
        some_off = ir.any_of(ir.no(required.input(unit, one)) for one in inputs)
        fed = {
            f"input {one} of the {called}": ir.all_of(
                [required.demand(name), required.input(unit, one), some_off]
            )
            for one in inputs
        }
        yield Property(
            id="torque_off_inputs",
            function=name,
            subject=unit,
            title=f"{device}: switches the torque-off inputs of the {called} together",
            requirement=f"{function.title}: if the demand switches one torque-off input of the {called} off, it "
            "switches all of them off, so that none has to do it alone",
            source=f"{_STO}; {function.source}",
            claim=NeverLasts(fed, required.limit_ns(name, unit), required.demand(name)),
            premises=_stopped(required, name, function, unit),
            complaint=f"{{who}} still permit{{s}} torque although the {device} is {{state}}",
        )


def category_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """A stop of category 0 removes the torque; a unit that brakes with it first does something else."""
    if function.stop_category != 0:
        return
    for unit in required.units_of(name):
        braking, called, device = required.braking(unit), required.name(unit), required.name(function.demand)
        if braking == ir.FALSE:
            continue
        yield Property(
            id="stop_category",
            function=name,
            subject=unit,
            title=f"{device}: takes the torque of the {called} away without braking first (stop category 0)",
            requirement=f"{function.title}: the {called} does not brake with torque on this demand; a controlled "
            "stop is of category 1",
            source=f"{_CATEGORY}; {function.source}",
            claim=NeverStep({called: ir.all_of([required.demand(name), rises(braking)])}),
            premises=(Premise(*required.begins(name, required.torque(unit), f"the {called} makes torque")),),
            complaint=f"the {{who}} brake{{s}} with torque, though the {device} asks for stop category 0",
        )


def _stopped(required: Requirement, name: str, function: Function, unit: str) -> tuple[Premise, ...]:
    """The unit is stopped by each channel, in each mode in which the function is required."""
    channels, device = required.kind(function.demand).channels, required.name(function.demand)
    torque, running = required.torque(unit), f"the {required.name(unit)} makes torque"
    begins = [Premise(*required.begins(name, torque, running))]
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
        [falls(required.output(device, channel)), *(required.output(device, one) for one in others)]
    )


def channel_rules(required: Requirement, name: str, function: Function) -> Iterator[Property]:
    """Two channels that disagreed bar torque, even after a reset, until both were seen open."""
    if function.channels is None:
        return
    device, apart = required.name(function.demand), disagreed(name)
    lawful = ir.all_of([apart, lawful_reset(required, name)])
    if not required.needs_reset(name):
        lawful = ir.all_of([apart, ir.no(required.any_demand())])
    for _, units, within_ns in required.by_limit(name):
        yield Property(
            id="channels_disagree",
            function=name,
            subject=function.demand,
            title=f"{device}: its two channels disagreeing lock the bench out",
            requirement=f"Once one channel of the {device} has opened and closed alone, torque stays barred, even "
            "after a reset, until both channels were seen open",
            source=f"{function.channels.source}; {function.source}",
            claim=NeverLasts(required.permitted(apart, units), within_ns, apart),
            premises=(
                Premise(f"a reset follows after one channel of the {device} opened and closed alone", lawful),
            ),
            complaint=f"the {{who}} may make torque although one channel of the {device} never opened",
        )
