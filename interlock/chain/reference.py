"""The chain interpreted one state at a time: slow, plain, and the meaning that all else must match."""

from collections.abc import Iterator
from typing import assert_never

from interlock.chain import ir

__all__ = ["State", "WiringLoop", "holds", "settle", "start", "step_taken", "successors", "watch"]

State = dict[str, str]
"""The value of every field by its name. States are never changed in place."""


class WiringLoop(Exception):
    """Devices that react to each other for ever without any delay between them."""

    def __init__(self, state: State, devices: frozenset[str]) -> None:
        self.state, self.devices = state, devices
        super().__init__(f"never at rest: {', '.join(sorted(devices))}")


def holds(term: ir.Term, was: State, now: State, event: int | None = None) -> bool:
    """The truth of a term about the event that led from one state to the next."""
    match term:
        case ir.Const(truth):
            return truth
        case ir.Now(field, values):
            return now[field] in values
        case ir.Was(field, values):
            return was[field] in values
        case ir.By(events):
            return event in events
        case ir.No(part):
            return not holds(part, was, now, event)
        case ir.All(parts):
            return all(holds(part, was, now, event) for part in parts)
        case ir.Any(parts):
            return any(holds(part, was, now, event) for part in parts)
        case _:
            assert_never(term)


def start(chain: ir.Chain) -> State:
    """The state after power-up: every device in its start state, then settled."""
    return settle(chain, {field.name: field.start for field in chain.fields})


def settle(chain: ir.Chain, state: State) -> State:
    """All reactions that come at once, in rounds in which every device sees the same moment."""
    seen = [state]
    while (after := _round(chain, state)) != state:
        if after in seen:
            raise WiringLoop(after, _restless(seen[seen.index(after) :]))
        seen.append(after)
        state = after
    return state


def step_taken(event: ir.Event, state: State) -> ir.Step | None:
    """The step that the event takes in this state; None if it cannot happen here."""
    return _first(event.steps, event.device, state)


def successors(chain: ir.Chain, state: State) -> Iterator[tuple[int, State]]:
    """Every event that can happen in a settled state, with the settled state that follows."""
    for number, event in enumerate(chain.events):
        step = step_taken(event, state)
        if step is not None:
            yield number, settle(chain, {**state, event.device: step.to})


def watch(observers: tuple[ir.Observer, ...], was: State, now: State, event: int | None) -> State:
    """The state after an event with the observers brought up to date, in their order.

    `was` holds devices and observers, `now` the devices; at power-up both are the settled start.
    """
    now = {**{observer.field.name: was[observer.field.name] for observer in observers}, **now}
    for observer in observers:
        for term, value in observer.updates:
            if holds(term, was, now, event):
                now[observer.field.name] = value
                break
    return now


def _round(chain: ir.Chain, state: State) -> State:
    taken = {device.device: _first(device.steps, device.device, state) for device in chain.reactions}
    return {**state, **{name: step.to for name, step in taken.items() if step is not None}}


def _first(steps: tuple[ir.Step, ...], device: str, state: State) -> ir.Step | None:
    ready = (step for step in steps if state[device] in step.sources and holds(step.guard, state, state))
    return next(ready, None)


def _restless(states: list[State]) -> frozenset[str]:
    return frozenset(name for name in states[0] if len({state[name] for state in states}) > 1)
