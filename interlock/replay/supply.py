"""Rules of the main supply: supply-on is dead while the demand is latched, its release brings nothing back."""

from collections.abc import Iterator
from typing import Final

from interlock.interval import Interval
from interlock.replay.finding import Finding
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.timing.edges import Change, before, changes, first_possible
from interlock.timing.settle import Settled, Window, settled
from interlock.timing.track import Track
from interlock.verdict import Verdict

__all__ = ["supply_of"]

_DEAD: Final = "supply-on does nothing while the demand is latched"
_STAYS: Final = "the supply stays off when the demand is released, until supply-on is pressed anew"


def supply_of(seen: Observation, stop: Stop) -> Iterator[Finding]:
    """Findings of the supply rule of the stop's function, if it has one and the log shows its devices."""
    rule = stop.function.supply
    if rule is None or f"{rule.of}.main" not in seen.tracks or f"{rule.on_by}.pressed" not in seen.tracks:
        return
    main, button = seen.tracks[f"{rule.of}.main"], seen.tracks[f"{rule.on_by}.pressed"]
    yield from _dead(seen, stop, main, [edge for edge in changes(button) if edge.to])
    yield from _stays(seen, stop, main, button)


def _dead(seen: Observation, stop: Stop, main: Track, presses: list[Change]) -> Iterator[Finding]:
    gone = stop.period.gone
    got = settled(main, Window(stop.onset, None if gone is None else gone.when))
    tried = [
        edge
        for edge in presses
        if (stop.period.onset is None or before(stop.period.onset, edge) is True)
        and (gone is None or before(edge, gone) is True)
    ]
    if tried:
        yield _finding(seen, stop, "supply_on_dead", _DEAD, got, "while the demand was latched")


def _stays(seen: Observation, stop: Stop, main: Track, button: Track) -> Iterator[Finding]:
    gone = stop.period.gone
    if gone is None:
        return
    anew = first_possible(button, gone)
    got = settled(main, Window(gone.when, anew))
    if stop.demand is not None or got.returned:
        open_end = anew is None
        yield _finding(seen, stop, "supply_stays_off", _STAYS, got, "after its release", open_end=open_end)


def _finding(
    seen: Observation, stop: Stop, effect: str, rule: str, got: Settled, when: str, *, open_end: bool = False
) -> Finding:
    stated = stop.function.supply
    assert stated is not None  # noqa: S101 - the caller has looked
    name = seen.device_name(stated.of)
    if got.returned:
        verdict = Verdict.FAIL
        sentence = f"The {name} closed at {got.returned[0] / 1e9:.3f} s, {when}."
    elif got.blind_after or got.blind_before:
        verdict = Verdict.INCONCLUSIVE
        sentence = (
            f"Whether the {name} stayed open {when} cannot be said: frames are missing or not to be trusted."
        )
    elif got.at.hi is None:
        verdict, sentence = Verdict.INCONCLUSIVE, f"The {name} was never seen open {when}."
    elif open_end:
        verdict = Verdict.INCONCLUSIVE
        sentence = (
            f"The {name} stayed open to the end of the log, which ends before supply-on was pressed anew."
        )
    else:
        verdict, sentence = Verdict.PASS, f"The {name} stayed open {when}."
    demand: Interval | None = stop.demand
    return Finding(stop.name, stated.of, effect, verdict, rule, stated.source, sentence, demand)
