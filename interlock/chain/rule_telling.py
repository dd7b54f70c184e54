"""What it means that faults break a rule beside the functions' effects, in sentences for a safety officer."""

from collections.abc import Collection, Iterable, Iterator
from typing import Final

from interlock.bench.required_models import Required
from interlock.chain.losses import Rule
from interlock.chain.requirement import Requirement

__all__ = ["endangers", "rule_asked", "rule_sentences"]

_POWERED: Final = (
    "leave the power of the {} on: its torque-off inputs and its supply stay on, and only the control that brakes it "
    "keeps its torque away (no longer stop category 1, IEC 60204-1:2016, 9.2.2). Alone that is no loss of the stop, "
    "since the torque does go."
)
_UNBRAKED: Final = (
    "take the torque of the {} without braking it first, so that it coasts (no longer stop category 1, IEC "
    "60204-1:2016, 9.2.2). Alone that is no loss of Safe Torque Off: the torque goes in the time allowed, as a stop "
    "that waits for a set time may do (SS1, IEC 61800-5-2:2016, 4.2.3.3; from memory). Reckon stopping times and "
    "distances of guards without the braking."
)
_CUT: Final = (
    "take the torque of the {} before its ramp has come to its end, by the stated times, so that it coasts from the "
    "speed that is left (no longer stop category 1, IEC 60204-1:2016, 9.2.2). Alone that is no loss of the stop, which "
    "falls to category 0. Reckon stopping times and distances of guards without the rest of the ramp."
)
_HALVES: Final = {"power_removed": _POWERED, "braking": _UNBRAKED, "ramp_completed": _CUT}
_KEPT: Final = {"power_removed": "power_removed", "braking": "braking", "ramp_completed": "braking"}


def endangers(rules: Iterable[Rule]) -> bool:
    """Somebody is in danger by one of these alone: of a stop of category 1 either half may fail."""
    return any(one.function is None for one in rules)


def rule_asked(required: Required, rule: Rule) -> bool:
    """The bench file requires that no single fault breaks it."""
    if rule.id == "idle_in_mode":
        return required.modes is not None and required.modes.single_fault_tolerant
    return (
        rule.function is not None and _KEPT[rule.id] in required.functions[rule.function].single_fault_keeps
    )


def rule_sentences(
    person: Requirement, rules: Iterable[Rule], effects: Collection[tuple[str, str]]
) -> Iterator[str]:
    """What is broken and what follows of it; nothing of a stop whose torque-off is among the lost effects anyway."""
    alike: dict[tuple[str, str], list[Rule]] = {}
    for one in rules:
        if (one.of, "torque_off") not in effects:
            alike.setdefault((one.id, one.unit), []).append(one)
    for (id_, unit), same in alike.items():
        called = person.name(unit)
        if same[0].function is None:
            yield _of_modes(person, id_, called, same)
            continue
        devices = dict.fromkeys(person.name(person.functions[one.of].demand) for one in same)
        stops = f"{'The stop' if len(devices) == 1 else 'Stops'} by the {' or the '.join(devices)} may"
        yield f"{stops} {_HALVES[id_].format(called)}"


def _of_modes(person: Requirement, id_: str, unit: str, same: list[Rule]) -> str:
    if id_ == "mode_change_stops":
        return f"After a change of the mode the {unit} may make torque, though nobody has reset."
    titles = " and ".join(f"'{_title(person, one.of)}'" for one in same)
    if id_ == "idle_in_mode":
        return f"In mode {titles} the {unit} may make torque, though it must rest there."
    return f"In mode {titles} the {unit} may make torque though nobody holds a device for it."


def _title(person: Requirement, mode: str) -> str:
    modes = person.bench.required.modes
    return mode if modes is None else modes.each[mode].title
