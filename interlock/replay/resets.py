"""What ends the stops of each function: uses of its own reset button, or the end of a demand that needs no reset."""

from collections.abc import Iterable, Iterator

from interlock.bench.required_models import Required
from interlock.replay.attempts import Attempt, attempts
from interlock.replay.modes import MODE_CHANGE
from interlock.replay.observation import Observation
from interlock.replay.periods import Period
from interlock.timing.edges import changes, hidden
from interlock.timing.track import Track

__all__ = ["Resets", "bars", "button_of", "by_supply_on", "needs_reset"]


def needs_reset(required: Required, function: str) -> bool:
    """After a stop by the function somebody must reset."""
    return function == MODE_CHANGE or required.functions[function].without_reset is None


def button_of(required: Required, function: str) -> str:
    """The device that resets the function."""
    own = None if function == MODE_CHANGE else required.functions[function].reset_by
    return required.reset.by if own is None else own


def by_supply_on(required: Required, function: str) -> bool:
    """The function takes the supply alone, and the button that gives it back is its reset: it acts when pressed, and
    says nothing of the torque-enable line."""
    supply = None if function == MODE_CHANGE else required.functions[function].supply
    return (
        supply is not None
        and needs_reset(required, function)
        and button_of(required, function) == supply.on_by
    )


def bars(required: Required, function: str) -> frozenset[str]:
    """The functions under whose demand the function's reset does nothing.

    Those that are reset by the same button and stop all of its units: what stops only some of them keeps those off
    by itself.
    """
    every = required.effects.torque_off.of
    mine = set(every if function == MODE_CHANGE else required.units_of(function))
    button = button_of(required, function)
    return frozenset(
        one
        for one in required.functions
        if needs_reset(required, one)
        and button_of(required, one) == button
        and mine <= set(required.units_of(one))
    )


class Resets:
    """Every use of each reset button in the log; whether it was lawful depends on the function that it is to reset."""

    def __init__(self, seen: Observation, demands: Iterable[Period]) -> None:
        self._seen, self._demands = seen, list(demands)
        self._found: dict[tuple[str, frozenset[str]], list[Attempt]] = {}

    def of(self, function: str) -> list[Attempt]:
        """What may have ended stops of the function, in order, each lawful, unlawful or in doubt."""
        required = self._seen.bench.required
        if not needs_reset(required, function):
            key = (function, frozenset[str]())
            if key not in self._found:
                asked = self._seen.asked.get(function)
                self._found[key] = [] if asked is None else _ends(asked, required.restart.no_sooner_than)
            return self._found[key]
        key = (button_of(required, function), bars(required, function))
        if key not in self._found:
            self._found[key] = self._used(*key)
        return self._found[key]

    def _used(self, button: str, barring: frozenset[str]) -> list[Attempt]:
        pressed = self._seen.tracks.get(f"{button}.pressed")
        if pressed is None:
            return []
        person_ns = self._seen.bench.required.restart.no_sooner_than
        return attempts(pressed, self._under(barring), person_ns)

    def barring(self, function: str) -> list[Period]:
        """The demands under which the function's reset does nothing."""
        return self._under(bars(self._seen.bench.required, function))

    def _under(self, barring: frozenset[str]) -> list[Period]:
        return [one for one in self._demands if barring & set(one.functions)]

    def on(self, unit: str) -> Iterator[list[Attempt]]:
        """What may have let the unit go on, by each function that stops it."""
        required = self._seen.bench.required
        yield from (self.of(name) for name in required.functions if unit in required.units_of(name))

    @property
    def all(self) -> list[Attempt]:
        """All of them."""
        required = self._seen.bench.required
        found = {id(used): used for used in map(self.of, required.functions)}
        return [one for used in found.values() for one in used]


def _ends(asked: Track, person_ns: int) -> list[Attempt]:
    """The ends of a demand; where evidence is missing for longer than a person needs, it may have ended too."""
    found = [Attempt(edge, edge, True) for edge in changes(asked) if not edge.to]
    for edge in hidden(asked):
        short = edge.when.hi is not None and edge.when.hi - edge.when.lo <= person_ns
        found.append(Attempt(None, edge, False if short else None))
    return sorted(found, key=lambda one: (one.release.first_new, one.release.last_old))
