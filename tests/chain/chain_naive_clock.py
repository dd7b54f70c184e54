"""The clock of a demand, kept move by move: from its beginning on, when must each late reaction that is due have come?

Everything happens as late as it may: when the first reaction that is due must come. If none is due, people may wait
for as long as they like. Plain tuples and dictionaries; no arrays, no compiled form.
"""

from collections.abc import Callable
from dataclasses import dataclass

from chain_naive import Books, Judge, Move, State

Node = tuple[State, Books]
Due = frozenset[tuple[tuple[str, str], int]]
EVER: Due = frozenset({(("nobody", "waits"), -1)})
"""The clock of a demand that has gone on for longer than the limit."""


@dataclass(frozen=True, slots=True)
class Runs:
    """While `during` holds the time runs; `anew`: the step from one node to the next lets it begin again."""

    during: Callable[[Node], bool]
    anew: Callable[[Node, Node], bool]


def time_runs(judge: Judge, rule: str, function: str | None, subject: str | None, limit: int | None) -> Runs:
    """Since when the time of a rule about states counts, and for how long."""

    def demanded(node: Node) -> bool:
        return function in judge.demands(node[0])

    def unshown(was: Node, now: Node) -> bool:
        begins = demanded(now) and not demanded(was)
        return begins and function not in judge.seen(now[0])

    def another_mode(was: Node, now: Node) -> bool:
        return judge.mode(was[0]) != judge.mode(now[0])

    def never(_was: Node, _now: Node) -> bool:
        return False

    def nobody_holds(node: Node) -> bool:
        mode, lost, holds = judge.mode(node[0]), False, False
        for name, one in judge.functions.items():
            if "torque_off" in one.effects and subject in judge.units_of(name):
                here = one.in_modes is None or mode in one.in_modes
                momentary = judge.kind[one.demand].momentary
                lost |= not here and not momentary
                holds |= here and momentary and not demands(node, name)
        return mode is not None and lost and not holds

    def barred_anew(was: Node, now: Node) -> bool:
        """Also where supply-on resets: what forbids that begins anew."""
        before, after = (judge.seen(node[0]) & judge.bars(function) for node in (was, now))
        return unshown(was, now) or (judge.by_supply_on(function) and bool(after) and not before)

    def demands(node: Node, name: str) -> bool:
        return name in judge.demands(node[0])

    def cut_off(node: Node) -> bool:
        bus, cut = judge.required.effects.bus_discharged, judge.required.effects.contactor_open
        by = cut is not None and bus is not None and bus.after == "contactor_open"
        return demanded(node) and not (by and judge.value(node[0], f"{cut.of}.main"))

    def idle(node: Node) -> bool:
        mode = judge.mode(node[0])
        return mode is not None and subject in judge.required.idle_in(mode)

    rules = {
        "idle_in_mode": Runs(idle, another_mode),
        "bus_discharged_in_time": Runs(cut_off, never),
        "stays_off": Runs(lambda node: function in node[1].unreset, barred_anew),
        "references_zero": Runs(lambda node: function in node[1].unreset, unshown),
        "supply_stays_off": Runs(lambda node: function in node[1].supply_taken, never),
        "stop_completes": Runs(lambda node: (subject, limit) in node[1].stopping, never),
        "brief_stop_completes": Runs(lambda node: (function, subject) in node[1].brief, never),
        "mode_change_stops": Runs(lambda node: node[1].mode_open, never),
        "channels_disagree": Runs(lambda node: function in node[1].mistrusted, never),
        "held_in_mode": Runs(nobody_holds, another_mode),
    }
    return rules.get(rule, Runs(demanded, never))


def soonest_late(judge: Judge, bad: Callable[..., bool], limit: int, runs: Runs) -> int | None:
    """Steps to a moment that is bad and may be later after the demand than the limit; None: there is none."""
    start = (judge.world.start, judge.note(judge.world.start, Books(), judge.world.start))
    first = (start, _begins(judge, start, limit) if runs.during(start) else None)
    level, met, depth = [first], {first}, 0
    while level:
        if any(clock == EVER and bad(*node) for node, clock in level):
            return depth
        level, depth = [one for here in level for one in _next(judge, here, limit, runs, met)], depth + 1
    return None


def _next(
    judge: Judge,
    here: tuple[Node, Due | None],
    limit: int,
    runs: Runs,
    met: set[tuple[Node, Due | None]],
) -> list[tuple[Node, Due | None]]:
    (node, clock), found = here, []
    for move in judge.world.moves(node[0]):
        after = (move.after, judge.note(*node, move.after))
        if not runs.during(after):
            then = None
        elif clock is None or runs.anew(node, after):
            then = _begins(judge, after, limit)
        else:
            then = _goes_on(judge, clock, move, after, limit)
        if (after, then) not in met:
            met.add((after, then))
            found.append((after, then))
    return found


def _waiting(judge: Judge, node: Node, limit: int) -> dict[tuple[str, str], int]:
    """The delays of the late reactions that are due and quick enough to matter."""
    late = [move for move in judge.world.moves(node[0]) if move.delay_ns is not None]
    return {(move.device, move.trigger): move.delay_ns for move in late if move.delay_ns <= limit}


def _begins(judge: Judge, node: Node, limit: int) -> Due:
    return _capped(_waiting(judge, node, limit), limit)


def _goes_on(judge: Judge, clock: Due, move: Move, after: Node, limit: int) -> Due:
    if clock == EVER:
        return EVER
    ends = dict(clock)
    now = min(ends.values())
    if move.delay_ns is not None:
        ends.pop((move.device, move.trigger), None)
    waiting = _waiting(judge, after, limit)
    return _capped({one: ends.get(one, now + delay) for one, delay in waiting.items()}, limit)


def _capped(ends: dict[tuple[str, str], int], limit: int) -> Due:
    """Ends beyond the limit are all alike; a moment that nothing ends within it is late for ever."""
    if min(ends.values(), default=limit + 1) > limit:
        return EVER
    return frozenset((one, min(end, limit + 1)) for one, end in ends.items())
