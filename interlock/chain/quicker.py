"""Which late reactions are surely over by the time that an act, which takes its time, is done.

One that became due before the act began has then had that time. One that another late reaction made due meanwhile
began later: their delays add up. So the constant inputs that the act's device gives while it waits are carried
through the wiring, to see which reactions can still make which others due.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from interlock.chain import ir

__all__ = ["begun_meanwhile", "run_out"]

_ENDLESS: Final = 1 << 62
_Values = Mapping[str, frozenset[str]]  # the values that a field may have; any, if it is not named


class _Move(NamedTuple):
    """A field goes from one value to another if what is left of the guard holds; by this event, or at once."""

    source: str
    to: str
    left: ir.Term
    event: int | None


class _Change(NamedTuple):
    """A field comes to be among these values or, unless only that counts, ceases to be."""

    field: str
    values: frozenset[str]
    only_comes: bool = False

    def is_made_by(self, move: _Move) -> bool:
        before, after = move.source in self.values, move.to in self.values
        return before is not after and not (before and self.only_comes)


def run_out(chain: ir.Chain, device: str, step: ir.Step) -> list[int]:
    """The late reactions, by number, that cannot still wait when a person comes to the end of the device's step.

    What other acts make due meanwhile is left aside here, and looked at apart (`let_go`).
    """
    return _over(chain, device, step)[0]


def begun_meanwhile(chain: ir.Chain, device: str, step: ir.Step) -> bool:
    """Whether another act can make one of them due while the device waits: then it may wait at the end all the same."""
    over, meanwhile = _over(chain, device, step)
    return meanwhile is not None and any(meanwhile.is_begun_by_act(at) for at in over)


def _over(chain: ir.Chain, device: str, step: ir.Step) -> "tuple[list[int], _Meanwhile | None]":
    quick = [
        at
        for at, event in enumerate(chain.events)
        if event.kind is ir.EventKind.LATE and event.delay_ns < step.takes_ns
    ]
    if not quick:
        return [], None
    meanwhile = _Meanwhile(chain, device, step)
    return [at for at in quick if meanwhile.longest_ns(at) < step.takes_ns], meanwhile


class _Meanwhile:
    """What can happen while a device waits in the sources of a step whose guard holds."""

    def __init__(self, chain: ir.Chain, device: str, step: ir.Step) -> None:
        self._chain, self._rest = chain, _at_rest(chain, device, step)
        self._moves = _moves(chain, device, step.sources, self._rest)
        self._longest: dict[int, int] = {}

    def longest_ns(self, late: int) -> int:
        """How long after the act began the reaction may come, if it was due by then or others make it due."""
        if late not in self._longest:
            self._longest[late] = _ENDLESS  # if it makes itself due again
            before = max(
                (self.longest_ns(other) for other in self._causes(late) if self._is_late(other)), default=0
            )
            self._longest[late] = min(_ENDLESS, before + self._chain.events[late].delay_ns)
        return self._longest[late]

    def is_begun_by_act(self, late: int) -> bool:
        """An act makes the reaction due, or one that it then follows; asked of reactions that end."""
        causes = self._causes(late)
        return any(not self._is_late(other) or self.is_begun_by_act(other) for other in causes)

    def _is_late(self, event: int) -> bool:
        return self._chain.events[event].kind is ir.EventKind.LATE

    def _causes(self, late: int) -> set[int]:
        """The events that can make this late reaction due, directly or by what reacts at once."""
        event = self._chain.events[late]
        again = any(step.to in step.sources for step in event.steps)
        causes, met = {late} if again else set[int](), set[_Change]()
        waiting: list[_Change] = [
            _Change(event.device, step.sources, only_comes=True) for step in event.steps
        ]
        waiting += [
            change
            for step in event.steps
            for value in step.sources
            for change in _changes(_left(step.guard, {**self._rest, event.device: frozenset({value})}))
        ]
        while waiting:
            if (change := waiting.pop()) in met:
                continue
            met.add(change)
            for move in self._moves[change.field]:
                if not change.is_made_by(move):
                    continue
                if move.event is not None:
                    causes.add(move.event)
                waiting += _changes(move.left)
                if move.source not in self._rest[change.field]:
                    waiting.append(_Change(change.field, frozenset({move.source}), only_comes=True))
        return causes


def _at_rest(chain: ir.Chain, device: str, step: ir.Step) -> dict[str, frozenset[str]]:
    """The values in which each field can be at rest meanwhile."""
    values = {field.name: frozenset(field.values) for field in chain.fields} | {device: step.sources}
    reacting = {one.device: one.steps for one in chain.reactions}
    while True:
        found = {
            name: frozenset(one for one in held if _rests(name, one, reacting.get(name, ()), step, values))
            for name, held in values.items()
        }
        if found == values:
            return values
        values = found


def _rests(name: str, value: str, reactions: tuple[ir.Step, ...], step: ir.Step, values: _Values) -> bool:
    here = {**values, name: frozenset({value})}
    if _left(step.guard, here) == ir.FALSE:
        return False
    own = [one for one in reactions if value in one.sources]
    return any(one.to == value for one in own) or all(_left(one.guard, here) != ir.TRUE for one in own)


def _moves(
    chain: ir.Chain, device: str, waits: frozenset[str], rest: _Values
) -> defaultdict[str, list[_Move]]:
    """Every move that is possible meanwhile, also on the way to rest; the device itself stays where it waits."""
    values, found = dict(rest), defaultdict[str, list[_Move]](list)
    while True:
        found.clear()
        for name, step, event in _steps(chain):
            for value in step.sources & values[name]:
                left = _left(step.guard, {**values, name: frozenset({value})})
                stays = name != device or step.to in waits
                if left != ir.FALSE and step.to != value and stays:
                    found[name].append(_Move(value, step.to, left, event))
        more = {
            name: held | {move.to for move in found[name]} if name in found else held
            for name, held in values.items()
        }
        if more == values:
            return found
        values = more


def _steps(chain: ir.Chain) -> Iterator[tuple[str, ir.Step, int | None]]:
    for reactions in chain.reactions:
        yield from ((reactions.device, step, None) for step in reactions.steps)
    for at, event in enumerate(chain.events):
        yield from ((event.device, step, at) for step in event.steps)


def _left(term: ir.Term, values: _Values) -> ir.Term:
    """What the term still depends on."""

    def narrowed(atom: ir.Now | ir.Was | ir.By) -> ir.Term:
        if not isinstance(atom, ir.Now) or atom.field not in values:
            return atom
        held = values[atom.field]
        return ir.TRUE if held <= atom.values else ir.FALSE if held.isdisjoint(atom.values) else atom

    return ir.mapped(term, narrowed)


def _changes(term: ir.Term) -> list[_Change]:
    return [_Change(atom.field, atom.values) for atom in ir.atoms(term) if isinstance(atom, ir.Now)]
