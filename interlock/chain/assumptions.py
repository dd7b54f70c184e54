"""What a pass rests on: rules read in the bench's favour, each stated only where it makes a difference."""

from collections.abc import Iterator

from interlock.bench.bridged import buses_beside, is_bridged
from interlock.chain import ir
from interlock.chain.effect_rules import strict_supply
from interlock.chain.left_over import left_over
from interlock.chain.mode_rules import suspended
from interlock.chain.observers import disagreed, latched
from interlock.chain.requirement import Requirement
from interlock.chain.timed_locks import timed_locks
from interlock.chain.views import Views

__all__ = ["about_faults", "assumptions", "of_spare_timers"]


def about_faults(most: int) -> str:
    """The first assumption of all: which faults were thought of."""
    if not most:
        return "Every device works as its kind states and the wiring is as described: faults are not judged here."
    many = "one fault" if most == 1 else f"{most} faults"
    others = "beside a lasting one that nobody is sure to notice, twice, and with any other such fault"
    return (
        "The properties are judged on the sound bench; the table of faults beside them thinks of the faults that "
        f"the kinds and the wiring name, at most {many} at a time, without those excluded. Each fault that may go away "
        f"by itself is also let come and go, {'one at a time' if most == 1 else f'alone, {others}'}. The table looks "
        "for effects of functions that are lost, starts that nobody asked for, units that run in a mode in which they "
        "must rest or be held, changes of mode that stop nothing, and what a stop of category 1 owes (that a ramp "
        "comes to its end by the stated times: under each single fault that is there when the stop is demanded); all "
        "else, such as how a reset must be pressed, is judged on the sound bench alone."
    )


def assumptions(required: Requirement, views: Views) -> Iterator[str]:
    """Sentences for the report, the general ones first."""
    yield (
        "The model has no clock: a late reaction may come at any later moment, except that acts which take "
        "longer than it, or than several in a row, come after it if it was under way when they began. For limits "
        "alone the delays of the bench file add up, each at its longest, from the demand on. How long anything takes "
        "in truth is judged on logs."
    )
    yield from _of_modes(required)
    yield from left_over(required.bench)
    for unit in (one for one in required.units if is_bridged(required.bench, one)):
        yield (
            f"The torque-off inputs of the {required.name(unit)} are bridged: it counts as permitted to make torque "
            "while it is fed, since nothing but its supply can take its torque away."
        )
    yield from _of_supplies(required, views)
    yield from _of_locks(required)
    if required.held() != ir.FALSE and _happens(views, _held_start(required)):
        yield (
            "Nobody holds a start button while the bench is reset or its supply comes back, nor lets it go just then: "
            "that counts as a start by that person, and this bench then makes torque."
        )
    yield from _of_starts(required, views)
    for name, function in required.functions.items():
        held = strict_supply(required, name, function)
        if held is not None and _occurs(views, held) and function.supply is not None:
            button, device = required.name(function.supply.on_by), required.name(function.demand)
            yield (
                f"Nobody holds the {button} while the {device} is released: held through the release it counts "
                "as pressed anew, and this bench then closes the main contactor."
            )
        if function.channels is not None and _occurs(views, _masked(required, name)):
            device = required.name(function.demand)
            yield (
                f"A disagreement of the two channels of the {device} may be cleared by another stop device in "
                "series that opens both channels (fault masking, ISO/TR 24119): on this bench it can be."
            )


def _of_starts(required: Requirement, views: Views) -> Iterator[str]:
    """Which devices other than buttons and the units themselves are taken for what a person starts by."""
    aside = required.not_meant_to_start() | set(required.units)
    for device in required.bench.devices:
        if device in aside or required.kind(device).momentary or required.kind(device).starts:
            continue
        begins = ir.any_of(ir.rises(required.torque(unit)) for unit in required.units)
        if _happens(views, ir.all_of([required.acts_on([device]), begins])):
            yield (
                f"On this bench torque can begin by what is done to the {required.name(device)}: that counts as a "
                "start by a person. If it can come by itself, such as by heat or by a level, give its kind a `demand`: "
                "then such a start fails."
            )


def _of_supplies(required: Requirement, views: Views) -> Iterator[str]:
    """Which units count as without torque for want of a supply alone, and which as fed by a charge."""
    for unit in (one for one in required.units if not is_bridged(required.bench, one)):
        alone = [ir.was(latched(name)) for name in required.functions if required.reset_by_supply(name)]
        enabled, fed = required.enabled(unit), required.supplied(unit)
        if _happens(views, ir.all_of([ir.any_of(alone), enabled, ir.no(fed)])):
            yield (
                f"The {required.name(unit)} counts as unable to make torque while it has no supply, though its "
                "torque-off inputs are on: after such a stop the supply alone holds it."
            )
        for bus in buses_beside(required.bench, unit):
            yield (
                f"What feeds the {required.name(unit)} feeds the {required.name(bus)} too: the unit is taken to hang "
                f"on it, and to be fed until it is discharged. If it does, write {unit}.supply: {bus}.live."
            )


def of_spare_timers(required: Requirement) -> Iterator[str]:
    """Which timers keep a guard locked only when a fault defeats the monitor beside them."""
    needed = set(timed_locks(required))
    spare = [one for one in timed_locks(required, redundant=True) if one not in needed]
    for one in spare:
        event, guard = (
            required.compiled.chain.events[one.timer.event],
            required.functions[one.function].demand,
        )
        yield (
            f"Where a fault defeats the monitor, the {event.trigger} of the {required.name(event.device)} counts as "
            f"keeping the {required.name(guard)} locked, and as no shorter than the {one.timer.delay_ns / 1e9:g} s "
            f"that are stated, the run-down of the shaft as no longer than {one.timer.run_down_ns / 1e9:g} s. Neither "
            "is shown here: time them at the bench."
        )


def _of_locks(required: Requirement) -> Iterator[str]:
    """Which guards are freed by time alone."""
    for one in timed_locks(required):
        timer, event = one.timer, required.compiled.chain.events[one.timer.event]
        guard, delay, run_down = (
            required.functions[one.function].demand,
            timer.delay_ns / 1e9,
            timer.run_down_ns / 1e9,
        )
        yield (
            f"The {required.name(guard)} is freed by time: the {event.trigger} of the {required.name(event.device)} "
            f"counts as no shorter than the {delay:g} s that are stated, and the run-down of the shaft as no longer "
            f"than {run_down:g} s. Neither is shown here: time them at the bench."
        )


def _of_modes(required: Requirement) -> Iterator[str]:
    """Which functions a mode suspends, and what the model then does not know."""
    modes = required.bench.required.modes
    if modes is None:
        return
    yield (
        f"Which mode is selected is told by the position of the {required.name(modes.by)}; in a position that "
        "selects none every function is required."
    )
    locks = [one for one in required.functions.values() if one.in_modes is not None]
    if any("locked" in required.kind(one.demand).outputs for one in locks):
        yield (
            "Whether a fault frees a locked guard too early is not judged for a guard that is required in some modes "
            "only: it may stand open when such a mode is left."
        )
    for mode, described in modes.each.items():
        if lost := suspended(required, mode):
            titles = ", ".join(f"'{required.functions[name].title}'" for name in lost)
            yield (
                f"In mode '{described.title}' these are not required: {titles}. Reduced speed, torque or travel, "
                "which such a mode needs (ISO 12100:2010, 6.2.11.9, from memory), is not in the model: show it apart."
            )


def _held_start(required: Requirement) -> ir.Term:
    """Torque begins by reset, supply-on or a late reaction because somebody holds a button meanwhile."""
    begins = ir.any_of(
        ir.all_of([ir.rises(required.torque(unit)), ir.no(required.starts(unit))]) for unit in required.units
    )
    return ir.all_of([begins, required.held()])


def _happens(views: Views, term: ir.Term) -> bool:
    """The event was seen, or may lie where nobody looked."""
    view = views.of([term])
    return not view.whole or bool(view.edges_where(term).any())


def _occurs(views: Views, term: ir.Term) -> bool:
    """The situation was seen, or may lie where nobody looked."""
    view = views.of([term])
    return not view.whole or bool(view.nodes_where(term).any())


def _masked(required: Requirement, name: str) -> ir.Term:
    permitted = ir.any_of(required.permit(unit) for unit in required.units)
    return ir.all_of([disagreed(name, strict=True), permitted])
