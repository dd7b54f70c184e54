"""Effects that must come in time after a demand: torque, references, contactor, standstill, bus."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from interlock.interval import Interval, delay
from interlock.replay.finding import Finding, milliseconds
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.timing.decision import judge
from interlock.timing.edges import changes, first_possible
from interlock.timing.settle import Settled, Window, settled
from interlock.timing.track import BLIND, NO, Track
from interlock.verdict import Verdict

__all__ = ["effects_of"]

_JUST_BEFORE_NS: Final = 1_000_000_000
"""An effect that came this shortly before its demand was seen may belong to it, with the demand shown late."""


@dataclass(frozen=True, slots=True)
class _Wanted:
    effect: str
    subject: str
    limit_ns: int
    requirement: str
    source: str
    done: str  # "the drive unit was without torque"


def effects_of(seen: Observation, stop: Stop) -> Iterator[Finding]:
    """A finding for each effect that the stop's function needs and that the demand put to the test."""
    for effect in stop.function.effects:
        match effect:
            case "torque_off":
                yield from _torque(seen, stop)
            case "references_zero":
                yield from _references(seen, stop)
            case "contactor_open":
                yield from _contactor(seen, stop)
            case "standstill":
                yield from _standstill(seen, stop)
            case "bus_discharged":
                yield from _bus(seen, stop)


def _torque(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated = seen.bench.required.effects.torque_off
    for unit in stated.of:
        name = seen.device_name(unit)
        for effect, port, words in (
            ("torque_off", f"{unit}.torque", f"the {name} was without torque"),
            ("enable_off", f"{unit}.enabled", f"the torque-enable line of the {name} was off"),
        ):
            if port in seen.tracks:
                requirement = f"{words.replace(' was ', ' is ')} within {stated.within / 1e6:g} ms"
                wanted = _Wanted(effect, unit, stated.within, requirement, stated.source, words)
                yield from _timed(seen, stop, wanted, seen.tracks[port], stop.window, stop.onset)


def _references(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated = seen.bench.required.effects.references_zero
    if stated is not None and f"{stated.of}.set" in seen.tracks:
        words = f"the {seen.device_name(stated.of)} were zero"
        requirement = f"{words.replace(' were ', ' are ')} within {stated.within / 1e6:g} ms, until set anew"
        wanted = _Wanted("references_zero", stated.of, stated.within, requirement, stated.source, words)
        yield from _timed(seen, stop, wanted, seen.tracks[f"{stated.of}.set"], stop.window, stop.onset)


def _contactor(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated = seen.bench.required.effects.contactor_open
    if stated is not None and f"{stated.of}.main" in seen.tracks:
        words = f"the {seen.device_name(stated.of)} was open"
        requirement = f"{words.replace(' was ', ' is ')} within {stated.within / 1e6:g} ms"
        wanted = _Wanted("contactor_open", stated.of, stated.within, requirement, stated.source, words)
        window = Window(stop.onset, _supply_may_return(seen, stop))
        yield from _timed(seen, stop, wanted, seen.tracks[f"{stated.of}.main"], window, stop.onset)


def _standstill(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated = seen.bench.required.effects.standstill
    if stated is None:
        return
    turning = seen.beyond(f"{stated.of}.speed", ">=", stated.below.number, magnitude=True)
    if turning is None:
        return
    words = f"the {seen.device_name(stated.of)} stood still (below {stated.below})"
    requirement = (
        f"the {seen.device_name(stated.of)} is below {stated.below} within {stated.within / 1e9:g} s"
    )
    wanted = _Wanted("standstill", stated.of, stated.within, requirement, stated.source, words)
    yield from _timed(
        seen, stop, wanted, turning, Window(stop.onset, _motion_may_return(seen, stop)), stop.onset
    )


def _bus(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated, contactor = seen.bench.required.effects.bus_discharged, seen.bench.required.effects.contactor_open
    if stated is None:
        return
    charged = seen.beyond(f"{stated.of}.voltage", ">", stated.at_most.number, magnitude=True)
    if charged is None:
        return
    window, origin, since = Window(stop.onset, _supply_may_return(seen, stop)), stop.onset, "the demand"
    if stated.after == "contactor_open" and contactor is not None and f"{contactor.of}.main" in seen.tracks:
        opened = settled(seen.tracks[f"{contactor.of}.main"], window)
        if opened.before != NO and opened.at.hi is not None:
            origin, since = opened.at, f"the opening of the {seen.device_name(contactor.of)}"
    words = f"the {seen.device_name(stated.of)} was at or below {stated.at_most}"
    requirement = f"{words.replace(' was ', ' is ')} within {stated.within / 1e9:g} s of {since}"
    wanted = _Wanted("bus_discharged", stated.of, stated.within, requirement, stated.source, words)
    yield from _timed(seen, stop, wanted, charged, window, origin)


def _supply_may_return(seen: Observation, stop: Stop) -> Interval | None:
    """When supply-on was first pressed anew after the demand had gone; without such a rule, the reset."""
    rule = stop.function.supply
    if rule is None or f"{rule.on_by}.pressed" not in seen.tracks:
        return stop.window.end
    if stop.period.gone is None:
        return None
    return first_possible(seen.tracks[f"{rule.on_by}.pressed"], stop.period.gone)


def _motion_may_return(seen: Observation, stop: Stop) -> Interval | None:
    """When, after the reset, the first unit may have made torque again."""
    if stop.reset is None:
        return None
    tracks = [seen.tracks.get(f"{unit}.torque") for unit in seen.bench.required.effects.torque_off.of]
    starts = [first_possible(track, stop.reset.release) for track in tracks if track is not None]
    return min((start for start in starts if start is not None), key=lambda when: when.lo, default=None)


def _timed(
    seen: Observation, stop: Stop, wanted: _Wanted, track: Track, window: Window, origin: Interval
) -> Iterator[Finding]:
    got = settled(track, window)
    if not got.held and got.before != BLIND:
        if _ended_just_before(seen, stop, wanted, track):
            yield _too_early(stop, wanted)
        return
    if stop.demand is None and not got.held:
        return
    latency = _latency(stop, got, origin)
    verdict = judge(latency, wanted.limit_ns)
    blind = (
        got.blind_before or got.before == BLIND or (stop.period.onset is not None and stop.period.onset.blind)
    )
    if blind and verdict is Verdict.PASS:
        verdict = Verdict.INCONCLUSIVE
    yield _finding(stop, wanted, verdict, latency, _sentence(wanted, verdict, latency, got, blind))


def _latency(stop: Stop, got: Settled, origin: Interval) -> Interval:
    """From the origin to the effect, none of it negative; no upper bound for a demand older than the log."""
    raw = delay(origin, got.at)
    hi = None if stop.demand is None or raw.hi is None else max(0, raw.hi)
    return Interval(max(0, raw.lo), hi)


def _ended_just_before(seen: Observation, stop: Stop, wanted: _Wanted, track: Track) -> bool:
    """Whether torque ended shortly before the demand was seen, though the unit was enabled until then."""
    enabled = seen.tracks.get(f"{wanted.subject}.enabled")
    if stop.demand is None or wanted.effect != "torque_off":
        return False
    if enabled is not None and settled(enabled, stop.window).before == NO:
        return False
    ends = (edge for edge in changes(track) if not edge.to)
    return any(
        edge.when.hi is not None and 0 <= stop.onset.lo - edge.when.lo < _JUST_BEFORE_NS for edge in ends
    )


def _too_early(stop: Stop, wanted: _Wanted) -> Finding:
    sentence = (
        f"{_capital(wanted.done)} already when the demand was seen, but only just:"
        " either the stamps are out of order, or it was stopped otherwise; repeat the demand while it is running."
    )
    return _finding(stop, wanted, Verdict.INCONCLUSIVE, None, sentence)


def _finding(
    stop: Stop, wanted: _Wanted, verdict: Verdict, latency: Interval | None, sentence: str
) -> Finding:
    return Finding(
        stop.name,
        wanted.subject,
        wanted.effect,
        verdict,
        wanted.requirement,
        wanted.source,
        sentence,
        stop.demand,
        latency,
        wanted.limit_ns,
    )


def _sentence(wanted: _Wanted, verdict: Verdict, latency: Interval, got: Settled, blind: bool) -> str:
    limit = f"{wanted.limit_ns / 1e6:g} ms are allowed"
    match verdict:
        case Verdict.PASS:
            return f"{_capital(wanted.done)} {milliseconds(latency)} after the demand; {limit}."
        case Verdict.FAIL if got.at.hi is None:
            return f"It was not seen that {wanted.done}, {milliseconds(latency)} after the demand; {limit}."
        case Verdict.FAIL:
            return f"{_capital(wanted.done)} for good only {milliseconds(latency)} after the demand; {limit}."
    if got.at.hi is None:
        why = "the log ends, or the bench was used again, before it was"
    else:
        why = (
            "frames are missing or not to be trusted there" if blind else "the samples are too coarse to tell"
        )
    return f"Whether {wanted.done} in time cannot be said ({milliseconds(latency)} after the demand): {why}; {limit}."


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
