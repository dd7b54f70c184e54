"""Which categories the structure of a bench was shown to carry, for the claims of its section `rating`.

A function is a chain in series. If the search under faults says that the whole chain carries a category, so does
each of its subsystems; if it does not, each is judged by the single faults of its own devices.
"""

from collections.abc import Collection, Mapping

from interlock.bench import Bench
from interlock.bench.expr import names
from interlock.bench.wire_faults import WIRE
from interlock.chain.fault_check import judge_faults
from interlock.chain.fault_list import excluded
from interlock.chain.fault_result import FaultReport
from interlock.rating.inputs import Function, RatingInputs
from interlock.rating.inputs_subsystem import Subsystem

__all__ = ["fault_report", "left_out", "shown_categories"]

_SINGLE = ("B", "1", "2")  # a single fault may lose the function
_TWO = ("B", "1", "3")


def fault_report(bench: Bench, inputs: RatingInputs) -> FaultReport:
    """The search under faults that the claims need: single faults, for category 4 two of them."""
    claims = {one.category for function in inputs.functions.values() for one in function.subsystems.values()}
    return judge_faults(bench, 2 if "4" in claims else 1)


def shown_categories(
    report: FaultReport, inputs: RatingInputs, bench: Bench
) -> Mapping[str, Collection[object] | None]:
    """By function and by 'function/subsystem', for `rating.rate`; None: not shown.

    A function carries what every effect that it rates carries, standstill left aside (the chain has no clock). Where
    it carries no more than one channel does, and a subsystem claims no more, that one may be why: another one is then
    shown to carry category 3 if no single fault of its own devices loses an effect that is rated, and refused if one
    does; a claim of category 4 is neither refused nor passed. Where every subsystem claims more, the claims are
    refused. Not shown as well: what the search did not see to its end.
    """
    found: dict[str, Collection[object] | None] = {}
    carried = {(one.function, one.effect): one.categories for one in report.categories}
    for name, function in inputs.functions.items():
        wanted = function.effects or [effect for of, effect in carried if of == name and effect is not None]
        sets = [carried.get((name, effect), ()) for effect in wanted if effect != "standstill"]
        common = tuple(one for one in "B1234" if sets and all(one in kinds for kinds in sets))
        losing = _losing(report, {(name, effect) for effect in wanted}, bench)
        found |= _of(name, function, common if report.search.whole and common else None, losing)
    return found


def _losing(report: FaultReport, effects: Collection[tuple[str, str]], bench: Bench) -> set[str]:
    """The devices, and cables, of which one fault alone loses one of the effects; a wire is of both its ends."""
    found = set[str]()
    for one in report.faults:
        if len(one.set) == 1 and any(effect in effects for effect in one.effects):
            device, _, name = one.set[0].partition(".")
            found.add(device)
            for port, wire in bench.wiring.items():
                at, _, reached = port.partition(".")
                if at == device and name.startswith(f"{WIRE}{reached}_"):
                    found |= {output.partition(".")[0] for output in names(wire)}
    return found


def left_out(bench: Bench) -> tuple[str, ...]:
    """Each fault that the bench's engineer excludes, in words, with reason and source: what the structure rests on."""
    return tuple(
        f"The structure was examined without this fault: {one.words}. Reason given: {one.reason} [{one.source}]."
        for one in excluded(bench)
    )


def _of(
    name: str, function: Function, carried: tuple[str, ...] | None, losing: Collection[str]
) -> dict[str, Collection[object] | None]:
    subsystems = function.subsystems.items()
    if carried is None or not set(carried) <= set(_SINGLE):
        return {name: carried}
    if not any(one.category in _SINGLE for _, one in subsystems):
        return {name: carried}
    known = set(losing) <= {device for _, one in subsystems for device in one.devices}
    return {name: carried} | {
        f"{name}/{each}": carried if one.category in _SINGLE else _alone(one, carried, losing, known)
        for each, one in subsystems
    }


def _alone(
    subsystem: Subsystem, carried: tuple[str, ...], losing: Collection[str], known: bool
) -> Collection[object] | None:
    """What a subsystem that claims two channels carries beside one that claims one; `known`: whose faults lose it."""
    if set(subsystem.devices) & set(losing):
        return carried
    return _TWO if known and subsystem.devices and subsystem.category == "3" else None
