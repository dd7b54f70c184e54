"""Effects that must come in time after a demand: torque, references, contactor, standstill, bus."""

from collections.abc import Iterator

from interlock.interval import delay
from interlock.replay.finding import Finding
from interlock.replay.observation import Observation
from interlock.replay.restart import references_return
from interlock.replay.stops import Stop, lines_of
from interlock.replay.timed import Wanted, capital, finding_of, timed
from interlock.replay.windows import until_motion, until_reset, until_supply
from interlock.timing.edges import Change, changes
from interlock.timing.settle import Window, settled
from interlock.timing.track import NO, YES, Track
from interlock.verdict import Verdict, worst

__all__ = ["effects_of"]


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
    source = seen.bench.required.effects.torque_off.source
    for unit, limit in stop.limits.items():
        name = seen.device_name(unit)
        for effect, port, words in (
            ("torque_off", f"{unit}.torque", f"the {name} was without torque"),
            ("enable_off", f"{unit}.enabled", f"the torque-enable line of the {name} was off"),
        ):
            if port in seen.tracks and port.rpartition(".")[2] in lines_of(seen.bench.required, stop.name):
                requirement = f"{words.replace(' was ', ' is ')} within {limit / 1e6:g} ms"
                wanted = Wanted(effect, unit, limit, requirement, source, words)
                yield from timed(seen, stop, wanted, seen.tracks[port], until_reset(stop), stop.onset)


def _references(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated = seen.bench.required.effects.references_zero
    if stated is not None and f"{stated.of}.set" in seen.tracks:
        words = f"the {seen.device_name(stated.of)} were zero"
        requirement = f"{words.replace(' were ', ' are ')} within {stated.within / 1e6:g} ms, until set anew"
        wanted = Wanted("references_zero", stated.of, stated.within, requirement, stated.source, words)
        track = seen.tracks[f"{stated.of}.set"]
        judged = list(timed(seen, stop, wanted, track, until_reset(stop), stop.onset))
        back = references_return(seen, stop, track)
        if back is not None:
            judged = [_came_back(stop, wanted, back, judged[0] if judged else None)]
        yield from judged


def _came_back(stop: Stop, wanted: Wanted, back: tuple[Verdict, str], found: Finding | None) -> Finding:
    """The worse of both: what was found within the stop, and that they came back by themselves after it."""
    verdict, when = back
    if found is not None and worst([found.verdict, verdict]) is found.verdict:
        return found
    latency = None if found is None else found.latency
    return finding_of(stop, wanted, verdict, latency, f"{capital(wanted.done)}, but came back {when}.")


def _contactor(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated = seen.bench.required.effects.contactor_open
    if stated is not None and f"{stated.of}.main" in seen.tracks:
        words = f"the {seen.device_name(stated.of)} was open"
        requirement = f"{words.replace(' was ', ' is ')} within {stated.within / 1e6:g} ms"
        wanted = Wanted("contactor_open", stated.of, stated.within, requirement, stated.source, words)
        main = seen.tracks[f"{stated.of}.main"]
        yield from timed(seen, stop, wanted, main, until_supply(seen, stop), stop.onset)


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
    wanted = Wanted("standstill", stated.of, stated.within, requirement, stated.source, words)
    lasting = until_motion(seen, stop)
    if not _own_motion(seen, stop):
        return
    for finding in timed(seen, stop, wanted, turning, lasting, stop.onset):
        if finding.verdict is Verdict.FAIL and _driven_on(seen, stop, lasting.window):
            why = "a unit that this stop leaves alone may have driven it; repeat it while that unit is without torque"
            sentence = f"It was not seen that {words} in time, but {why}."
            yield finding_of(stop, wanted, Verdict.INCONCLUSIVE, finding.latency, sentence)
            continue
        again = _again(turning, lasting.window, max(stop.limits.values()))
        if again is None or finding.verdict is not Verdict.PASS:
            yield finding
        else:
            sentence = (
                f"{capital(words)} in time, but turned again at {again / 1e9:.3f} s, though no torque was"
            )
            sentence += " seen; find out what turned it, and repeat the stop."
            yield finding_of(stop, wanted, Verdict.INCONCLUSIVE, finding.latency, sentence)


def _own_motion(seen: Observation, stop: Stop) -> bool:
    """Whether a unit of the stop drove the shaft when it was demanded; asked only where other units may drive it."""
    if set(stop.limits) == set(seen.bench.required.effects.torque_off.of):
        return True
    at = Window(stop.onset, None)
    tracks = [seen.tracks.get(f"{unit}.torque") for unit in stop.limits]
    return any(track is not None and settled(track, at).before == YES for track in tracks)


def _driven_on(seen: Observation, stop: Stop, window: Window) -> bool:
    """Whether a unit that the stop leaves alone may have made torque in the window."""
    others = [unit for unit in seen.bench.required.effects.torque_off.of if unit not in stop.limits]
    for unit in others:
        track = seen.tracks.get(f"{unit}.torque")
        got = None if track is None else settled(track, window)
        if got is None or got.held or got.blind_before or got.blind_after or got.before != NO:
            return True
    return False


def _again(turning: Track, window: Window, lasting_ns: int) -> int | None:
    """Stamp at which the shaft turned again in the window, for `lasting_ns` at least after as long a standstill."""
    edges = [edge for edge in changes(turning) if _within(edge, window)]
    for stood, again, ended in zip(edges, edges[1:], [*edges[2:], None], strict=False):
        long = delay(stood.when, again.when).lo >= lasting_ns
        if not stood.to and long and (ended is None or delay(again.when, ended.when).lo >= lasting_ns):
            return int(turning.stamps_ns[again.first_new])
    return None


def _within(edge: Change, window: Window) -> bool:
    late = window.end is not None and (edge.when.hi is None or edge.when.hi > window.end.lo)
    return edge.when.lo >= window.onset.lo and not late


def _bus(seen: Observation, stop: Stop) -> Iterator[Finding]:
    stated, contactor = seen.bench.required.effects.bus_discharged, seen.bench.required.effects.contactor_open
    if stated is None:
        return
    charged = seen.beyond(f"{stated.of}.voltage", ">", stated.at_most.number, magnitude=True)
    if charged is None:
        return
    lasting, origin, since = until_supply(seen, stop), stop.onset, "the demand"
    if stated.after == "contactor_open" and contactor is not None and f"{contactor.of}.main" in seen.tracks:
        opened = settled(seen.tracks[f"{contactor.of}.main"], lasting.window)
        if opened.before != NO and opened.at.hi is not None:
            origin, since = opened.at, f"the opening of the {seen.device_name(contactor.of)}"
    words = f"the {seen.device_name(stated.of)} was at or below {stated.at_most}"
    requirement = f"{words.replace(' was ', ' is ')} within {stated.within / 1e9:g} s of {since}"
    wanted = Wanted("bus_discharged", stated.of, stated.within, requirement, stated.source, words, since)
    yield from timed(seen, stop, wanted, charged, lasting, origin)
