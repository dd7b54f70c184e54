"""Rules of the main supply: supply-on is dead while the demand is latched, its release brings nothing back."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.required_models import Supply
from interlock.interval import Interval, delay
from interlock.replay.advice import AGAIN, finer
from interlock.replay.attempts import between_samples
from interlock.replay.finding import Finding
from interlock.replay.observation import Observation
from interlock.replay.stops import Stop
from interlock.replay.unseen import unseen_supply
from interlock.replay.windows import blind_between
from interlock.timing.edges import Change, before, changes, first_possible
from interlock.timing.settle import Settled, Window, settled
from interlock.timing.track import Track
from interlock.verdict import Verdict

__all__ = ["supply_of"]

_DEAD: Final = "supply-on does nothing while the demand is latched"
_STAYS: Final = "the supply stays off when the demand is released, until supply-on is pressed anew"

Told = tuple[Verdict, str]


def supply_of(seen: Observation, stop: Stop) -> Iterator[Finding]:
    """Findings of the supply rule of the stop's function, if it has one and the log shows its devices."""
    rule = stop.function.supply
    if rule is None or f"{rule.of}.main" not in seen.tracks or f"{rule.on_by}.pressed" not in seen.tracks:
        return
    main, button = seen.tracks[f"{rule.of}.main"], seen.tracks[f"{rule.on_by}.pressed"]
    name = seen.device_name(rule.of)
    pick_up = seen.bench.devices[rule.of].delays.get("pick_up", 0)
    for effect, text, told in (
        ("supply_on_dead", _DEAD, _dead(stop, name, main, button, pick_up)),
        ("supply_stays_off", _STAYS, _stays(seen, stop, rule, pick_up)),
    ):
        if told is not None:
            yield Finding(stop.name, rule.of, effect, told[0], text, rule.source, told[1], stop.demand)


def _dead(stop: Stop, name: str, main: Track, button: Track, pick_up_ns: int) -> Told | None:
    """None: nobody pressed supply-on while the demand was latched."""
    gone = stop.period.gone
    tried = [(press, release) for press, release in _pushes(button) if _latched(stop, press)]
    if not tried:
        return None
    got = settled(main, Window(stop.onset, None if gone is None else gone.when))
    end = main.clock.sampled(int(main.stamps_ns[-1])) if gone is None else gone.when
    told = _open(name, got, "while the demand was latched")
    if told[0] is Verdict.FAIL and not got.again:
        sentence = (
            f"The {name} closed so near to the demand that nobody can tell whether before it or after it; repeat it"
            f" with the {name} closed for a while."
        )
        return Verdict.INCONCLUSIVE, sentence
    if told[0] is Verdict.PASS and all(_held(*push, end) < pick_up_ns for push in tried):
        sentence = (
            f"Supply-on was pressed too shortly for the {name} to close, so this does not show that it is dead; press"
            f" it for longer than {pick_up_ns / 1e6:g} ms."
        )
        return Verdict.INCONCLUSIVE, sentence
    return told


def _pushes(button: Track) -> Iterator[tuple[Change, Change | None]]:
    """Each press of a button with its release."""
    edges = changes(button)
    for place, edge in enumerate(edges):
        if edge.to:
            yield edge, edges[place + 1] if place + 1 < len(edges) else None


def _latched(stop: Stop, press: Change) -> bool:
    """Whether the demand was surely present at the press."""
    onset, gone = stop.period.onset, stop.period.gone
    return (onset is None or before(onset, press) is True) and (gone is None or before(press, gone) is True)


def _held(press: Change, release: Change | None, end: Interval) -> int:
    """How long, at least, the button was pressed before its release or the end."""
    to_end = delay(press.when, end).lo
    return to_end if release is None else min(to_end, delay(press.when, release.when).lo)


def _stays(seen: Observation, stop: Stop, rule: Supply, pick_up_ns: int) -> Told | None:
    """None: the log does not show the release of a demand whose onset it shows."""
    gone, name = stop.period.gone, seen.device_name(rule.of)
    if gone is None:
        return None
    main, button = seen.tracks[f"{rule.of}.main"], seen.tracks[f"{rule.on_by}.pressed"]
    anew = first_possible(button, gone)
    unseen = unseen_supply(seen, rule, gone, anew)
    if unseen is not None:
        why = between_samples("supply-on", unseen, seen.bench.required.reset.shortest_press)
        return Verdict.INCONCLUSIVE, f"The {name} closed after the demand had gone, but {why}."
    got = settled(main, Window(gone.when, anew))
    if stop.demand is None and not got.returned:
        return None
    told = _open(name, got, "after its release")
    if told[0] is Verdict.PASS and blind_between([main, button], gone.when.lo, anew):
        told = (
            Verdict.INCONCLUSIVE,
            f"Frames are missing: the {name} may have closed, or supply-on been pressed, unseen; {AGAIN}.",
        )
    if told[0] is not Verdict.PASS:
        return told
    if anew is None:
        sentence = (
            f"The {name} stayed open to the end of the log, which ends before supply-on was pressed anew; record on"
            " until then."
        )
        return Verdict.INCONCLUSIVE, sentence
    if delay(gone.when, anew).lo < pick_up_ns:
        sentence = (
            f"Supply-on was pressed anew before the {name} could have closed by the release alone; wait for longer than"
            f" {pick_up_ns / 1e6:g} ms before you press it."
        )
        return Verdict.INCONCLUSIVE, sentence
    return _at_the_press(gone, name, main, button) or told


def _at_the_press(gone: Change, name: str, main: Track, button: Track) -> Told | None:
    """The contactor closed in the last samples before supply-on was seen pressed anew, or with it."""
    rise = next((edge for edge in changes(main) if edge.to and before(gone, edge) is not False), None)
    press = next((edge for edge in changes(button) if edge.to and before(gone, edge) is not False), None)
    order = True if rise is None or press is None else before(press, rise)
    if order is True:
        return None
    if order is False:
        return Verdict.FAIL, f"The {name} closed just before supply-on was pressed anew."
    together = rise is not None and press is not None and rise.track.message == press.track.message
    how = "at the same sample at which" if together else "so near to when"
    sentence = f"The {name} closed {how} supply-on was seen pressed anew: nobody can tell which came first;"
    sentence += f" {finer([button, main])}{'' if together else ', or both in one message'}."
    return Verdict.INCONCLUSIVE, sentence


def _open(name: str, got: Settled, when: str) -> Told:
    if got.returned:
        return Verdict.FAIL, f"The {name} closed at {got.returned[0] / 1e9:.3f} s, {when}."
    if got.blind_after or got.blind_before:
        why = f"frames are missing or not to be trusted; {AGAIN}"
        return Verdict.INCONCLUSIVE, f"Whether the {name} stayed open {when} cannot be said: {why}."
    if got.at.hi is None:
        return Verdict.INCONCLUSIVE, f"The {name} was never seen open {when}; record on until it is."
    return Verdict.PASS, f"The {name} stayed open {when}."
