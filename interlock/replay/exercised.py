"""What the requirement asks for and no demand of the log put to the test: never a pass."""

from collections.abc import Iterator, Sequence
from typing import Final

from interlock.bench import kinds_of
from interlock.bench.required_models import Function
from interlock.interval import Interval
from interlock.replay.finding import Finding
from interlock.replay.latch import shortest_press_ns
from interlock.replay.locked import LOCKED, is_locked, requirement_of
from interlock.replay.mode_rules import IDLE, STARTS_NOTHING, idle_words
from interlock.replay.modes import MODE_CHANGE, function_of, limits_of
from interlock.replay.observation import Observation
from interlock.replay.resets import by_supply_on, needs_reset
from interlock.replay.stops import Stop
from interlock.replay.unshown import unshown
from interlock.verdict import Verdict

__all__ = ["missing_of"]

_RELEASE: Final = "the release of reset acts, not its press (hold it for more than {:g} ms)"
Asked = tuple[str, str, str, str]  # subject, effect, requirement, source


def missing_of(seen: Observation, stops: Sequence[Stop], judged: Sequence[Finding]) -> Iterator[Finding]:
    """For each function what no demand of it put to the test; what its effects are, in each of its modes."""
    modes = {(stop.name, stop.demand): stop.mode for stop in stops}
    required = seen.bench.required
    for name, function in required.functions.items():
        done = {
            (one.subject, one.effect) for one in judged if one.function == name and one.demand is not None
        }
        what = f"demand by the {seen.device_name(function.demand)}"
        for mode in _modes_of(seen, name):
            here = done if mode is None else _done_in(mode, name, modes, judged)
            yield from _missing(seen, name, what, _effects(seen, name, function, mode), here)
        yield from _missing(seen, name, what, _latch(seen, name, function), done)
    if required.modes is not None:
        done = {(one.subject, one.effect) for one in judged if one.function == MODE_CHANGE}
        yield from _missing(seen, MODE_CHANGE, "change of the mode", _mode_change(seen), done)


def _modes_of(seen: Observation, name: str) -> Sequence[str | None]:
    modes, own = seen.bench.required.modes, seen.bench.required.functions[name].in_modes
    return [None] if modes is None else [mode for mode in modes.each if own is None or mode in own]


def _done_in(
    mode: str, name: str, modes: dict[tuple[str, Interval | None], str | None], judged: Sequence[Finding]
) -> set[tuple[str, str]]:
    mine = (one for one in judged if one.function == name and one.demand is not None)
    return {(one.subject, one.effect) for one in mine if modes.get((name, one.demand)) == mode}


def _missing(
    seen: Observation, name: str, what: str, asked: Iterator[Asked], exercised: set[tuple[str, str]]
) -> Iterator[Finding]:
    for subject, effect, requirement, source in asked:
        if (subject, effect) not in exercised:
            why = unshown(seen, name, subject, effect)
            sentence = f"The log holds no {what} that puts this to the test: {requirement}."
            if why is not None:
                sentence = f"No log puts this to the test: {requirement}: {why}."
            yield Finding(name, subject, effect, Verdict.NOT_OBSERVED, requirement, source, sentence)


def _effects(seen: Observation, name: str, function: Function, mode: str | None) -> Iterator[Asked]:
    required = seen.bench.required
    where = "" if mode is None or required.modes is None else f", in mode '{required.modes.each[mode].title}'"
    late = is_locked(seen.bench, function.demand)
    if late:
        yield function.demand, LOCKED, f"{requirement_of(seen, name)}{where}", function.source
    for effect in function.effects:
        if late and effect in ("torque_off", "standstill"):
            continue  # nothing makes torque or turns any more when such a guard demands
        stated = getattr(required.effects, effect)
        subjects = stated.of if isinstance(stated.of, list) else [stated.of]
        idle = [] if mode is None else required.idle_in(mode)
        units = [unit for unit in limits_of(seen.bench, name) if unit not in idle]
        for subject in units if effect == "torque_off" else subjects:
            words = f"{effect.replace('_', ' ')}: {seen.device_name(subject)}{where}"
            yield subject, effect, words, stated.source


def _latch(seen: Observation, name: str, function: Function) -> Iterator[Asked]:
    required = seen.bench.required
    for unit in limits_of(seen.bench, name):
        called = seen.device_name(unit)
        if needs_reset(required, name):
            source = required.reset.source
            yield unit, "stays_off", f"the {called} stays off until the lawful reset", source
            if not by_supply_on(required, name):
                yield unit, "reset_on_release", _RELEASE.format(shortest_press_ns(required) / 1e6), source
            words = f"the {called} waits for a person's start after the reset"
            yield unit, "restart", words, required.restart.source
            continue
        yield unit, "stays_off", f"the {called} stays off until the demand has gone", function.source
        if not kinds_of(seen.bench)[seen.bench.devices[function.demand].kind].starts:
            words = f"the {called} waits for a person's start after the demand has gone"
            yield unit, "restart", words, required.restart.source
    if function.channels is not None:
        yield function.demand, "channels_agree", "both channels change together", function.channels.source
    if function.supply is not None:
        of, source = function.supply.of, function.supply.source
        yield of, "supply_on_dead", "supply-on is dead while the demand is latched", source
        yield of, "supply_stays_off", "the release does not bring the supply back", source


def _mode_change(seen: Observation) -> Iterator[Asked]:
    function, modes = function_of(seen.bench, MODE_CHANGE), seen.bench.required.modes
    for unit in seen.bench.required.effects.torque_off.of:
        called = seen.device_name(unit)
        if modes is not None and modes.change == "stops":
            yield unit, "torque_off", f"torque off: {called}, at a change of the mode", function.source
            yield unit, "stays_off", f"the {called} stays off after a change of the mode", function.source
        idle = [mode for mode in seen.selected if unit in seen.bench.required.idle_in(mode)]
        yield from ((unit, IDLE, idle_words(seen, mode, unit), function.source) for mode in idle)
        yield unit, STARTS_NOTHING, f"a change of the mode does not start the {called}", function.source
