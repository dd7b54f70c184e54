"""The bench as it is when somebody else acts just before a button is let go.

What waited when an act began is over at its end, if it is quicker; what another act began meanwhile need not be. So
each act that takes its time is parted: somebody first goes on long enough, which comes after all that is quicker, and
then may end at any moment. A device that goes on has its old outputs in a state of its own.
"""

from collections.abc import Iterator
from dataclasses import replace

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.expr import Expr, Name, Not, Or, rename
from interlock.bench.kind import Transition
from interlock.chain.compile import without_times
from interlock.chain.quicker import begun_meanwhile
from interlock.chain.requirement import Requirement
from interlock.chain.result import PropertyResult

__all__ = ["parted", "told_as_built"]


def parted(required: Requirement) -> Bench | None:
    """The bench with those acts parted of which it matters; None if there are none: the bench itself tells all.

    Start buttons are left as they are: who holds one while the bench is reset counts as starting it then.
    """
    bench = required.bench
    chain, kinds, started_by = without_times(bench).chain, kinds_of(bench), required.start_buttons()
    own, devices = dict(bench.kinds), dict(bench.devices)
    for name, device in bench.devices.items():
        if name in started_by:
            continue
        of_device = {event.trigger: list(event.steps) for event in chain.events if event.device == name}
        acts = [at for at, one in enumerate(kinds[device.kind].transitions) if one.act is not None]
        taken = [(at, of_device[kinds[device.kind].transitions[at].act or ""].pop(0)) for at in acts]
        if long := [at for at, step in taken if begun_meanwhile(chain, name, step)]:
            own[f"{name} parted"] = _parted(kinds[device.kind], long)
            devices[name] = device.model_copy(update={"kind": f"{name} parted"})
    return None if own == bench.kinds else bench.model_copy(update={"kinds": own, "devices": devices})


def told_as_built(one: PropertyResult) -> PropertyResult:
    """What was judged of the parted bench, with the states of the bench as described."""
    acts = (
        replace(act, after={device: state.split()[0] for device, state in act.after.items()})
        for act in one.acts
    )
    return replace(one, acts=tuple(acts))


def _parted(kind: Kind, long: list[int]) -> Kind:
    """The kind with the acts of these transitions parted."""
    on = {(state, at): f"{state} {at}" for at in long for state in kind.transitions[at].source}

    def either(state: str) -> Expr:
        return Or((Name(state), *(Name(new) for (old, _), new in on.items() if old == state)))

    return kind.model_copy(
        update={
            "states": {**kind.states, **{new: kind.states[old] for (old, _), new in on.items()}},
            "outputs": {name: rename(shown, either) for name, shown in kind.outputs.items()},
            "braking": None if kind.braking is None else rename(kind.braking, either),
            "transitions": [part for at, one in enumerate(kind.transitions) for part in _parts(one, at, on)],
        }
    )


def _parts(step: Transition, at: int, on: dict[tuple[str, int], str]) -> Iterator[Transition]:
    """The transition from its old states and from the new ones; before it, if it is parted, how these are come to."""
    ended = [new for (state, of), new in on.items() if of == at and state in step.source]
    others = [new for (state, of), new in on.items() if of != at and state in step.source]
    yield step.model_copy(update={"source": [*step.source, *others]})
    for state in step.source if ended else ():
        new, words = on[state, at], f"wait as long as it takes to {step.words}"
        yield step.model_copy(
            update={"act": f"{step.act} {new}", "source": [state], "to": new, "words": words}
        )
        yield step.model_copy(update={"takes": 0, "source": [new]})
        if step.when is not None:
            lapses = {"act": None, "when": Not(step.when), "words": "", "takes": 0}
            yield step.model_copy(update={**lapses, "source": [new], "to": state})
