"""Ways through the model told as a person at the bench would: who does what, and what it changes."""

from dataclasses import dataclass

from interlock.bench import Bench, kinds_of
from interlock.chain import ir
from interlock.chain.reference import State, step_taken
from interlock.chain.watched import Watched

__all__ = ["PERSON", "Act", "tell"]

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


def tell(
    bench: Bench, events: tuple[ir.Event, ...], watched: Watched, way: tuple[int, ...]
) -> tuple[Act, ...]:
    """The events of a way in order."""
    return tuple(_act(bench, events[int(watched.event[edge])], watched, edge) for edge in way)


def _act(bench: Bench, event: ir.Event, watched: Watched, edge: int) -> Act:
    before = _devices(bench, watched.unpack(int(watched.source[edge])))
    after = _devices(bench, watched.unpack(int(watched.target[edge])))
    step = step_taken(event, before)
    if step is None:
        raise ValueError(f"{event.device}.{event.trigger} cannot happen in this state")
    name = bench.devices[event.device].name
    changed = [
        device for device in bench.devices if before[device] != after[device] and device != event.device
    ]
    changes = tuple(_is_now(bench, device, after[device]) for device in changed)
    if event.kind is ir.EventKind.ACT:
        return Act(PERSON, step.words.replace("{name}", name), event.kind, event.device, changes, after)
    words = f"a moment later: {_is_now(bench, event.device, after[event.device])}"
    return Act(name, words, event.kind, event.device, changes, after)


def _is_now(bench: Bench, device: str, state: str) -> str:
    described = bench.devices[device]
    return f"{described.name}: {kinds_of(bench)[described.kind].states[state]}"


def _devices(bench: Bench, state: State) -> State:
    return {device: state[device] for device in bench.devices}
