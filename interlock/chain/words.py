"""Ways through the model told as a person at the bench would: who does what, and what it changes."""

from dataclasses import dataclass
from typing import Any

from interlock.bench import Bench, kinds_of
from interlock.chain import ir
from interlock.chain.reference import State, step_taken
from interlock.chain.watched import Watched

__all__ = ["PERSON", "Act", "act_of", "changes_of", "tell"]

PERSON = "person at the bench"


@dataclass(frozen=True, slots=True)
class Act:
    """One event of a way, and the state of every device after it."""

    who: str  # the person, or the device that reacts late
    words: str
    kind: ir.EventKind
    device: str
    changes: tuple[str, ...]  # in words, of the devices that react
    after: State

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        brief = {"who": self.who, "words": self.words, "kind": self.kind.value, "device": self.device}
        return {**brief, "changes": list(self.changes), "after": self.after}


def tell(
    bench: Bench, events: tuple[ir.Event, ...], watched: Watched, way: tuple[int, ...]
) -> tuple[Act, ...]:
    """The events of a way in order."""
    return tuple(_act(bench, events[watched.event_of(edge)], watched, edge) for edge in way)


def _act(bench: Bench, event: ir.Event, watched: Watched, edge: int) -> Act:
    before, after = watched.unpack(int(watched.source[edge])), watched.unpack(int(watched.target[edge]))
    return act_of(bench, event, before, after)


def act_of(bench: Bench, event: ir.Event, was: State, now: State) -> Act:
    """An event that leads from one state to the next; raises ValueError if it cannot happen in the first."""
    step = step_taken(event, was)
    if step is None:
        raise ValueError(f"{event.device}.{event.trigger} cannot happen in this state")
    after = _devices(bench, now)
    name, changes = bench.devices[event.device].name, changes_of(bench, was, now, event.device)
    if event.kind is ir.EventKind.ACT:
        return Act(PERSON, step.words.replace("{name}", name), event.kind, event.device, changes, after)
    words = f"a moment later: {_is_now(bench, event.device, after[event.device])}"
    return Act(name, words, event.kind, event.device, changes, after)


def changes_of(bench: Bench, was: State, now: State, actor: str | None = None) -> tuple[str, ...]:
    """What the devices do that change, told one by one; not of the one that acts itself."""
    changed = (one for one in bench.devices if was[one] != now[one] and one != actor)
    return tuple(_is_now(bench, device, now[device]) for device in changed)


def _is_now(bench: Bench, device: str, state: str) -> str:
    described = bench.devices[device]
    return f"{described.name}: {kinds_of(bench)[described.kind].states[state]}"


def _devices(bench: Bench, state: State) -> State:
    return {device: state[device] for device in bench.devices}
