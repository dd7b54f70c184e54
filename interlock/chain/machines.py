"""Each device kind declared as a state machine of the `transitions` library.

The machine of a kind is the declaration that `interlock.chain.compile` reads; run by the library it is
also the slow second opinion that tests drive side by side with what was compiled.
"""

from collections.abc import Callable, Iterator
from typing import Any

from transitions import Machine

from interlock.bench.expr import evaluate
from interlock.bench.kind import Kind, Transition

__all__ = ["REACT", "DeviceModel", "declare", "guard_name", "lint", "trigger_of"]

REACT = "react"


class DeviceModel:
    """What a machine of the library moves: its inputs, and one condition for each transition of the kind."""

    state: str

    def __init__(self, kind: Kind) -> None:
        self.inputs = {name: default == "always" for name, default in kind.inputs.items()}
        for index, step in enumerate(kind.transitions):
            setattr(self, guard_name(index), self._condition(step))

    def _condition(self, step: Transition) -> Callable[[], bool]:
        return lambda: step.when is None or evaluate(step.when, self.inputs.__getitem__)


def guard_name(index: int) -> str:
    """Name of the condition of the kind's transition of that number."""
    return f"guard_{index}"


def trigger_of(step: Transition) -> str:
    """The trigger of a transition: `act_...`, `late_...`, or the one of all reactions at once."""
    if step.act is not None:
        return f"act_{step.act}"
    return REACT if step.after is None else f"late_{step.after}"


def declare(kind: Kind) -> tuple[Machine, DeviceModel]:
    """The machine of a device of this kind and the model that it moves, in the kind's start state."""
    model = DeviceModel(kind)
    machine = Machine(
        model=model,
        states=list(kind.states),
        initial=kind.start,
        transitions=[_declaration(index, step) for index, step in enumerate(kind.transitions)],
        auto_transitions=False,
        ignore_invalid_triggers=True,
    )
    if unknown := list(lint(machine, model)):
        raise ValueError(f"conditions that the model does not have: {', '.join(unknown)}")
    return machine, model


def lint(machine: Machine, model: DeviceModel) -> Iterator[str]:
    """Conditions without a method, which the library would accept in silence until it calls them."""
    for event in machine.events.values():
        for transitions in event.transitions.values():
            for transition in transitions:
                for condition in transition.conditions:
                    if not callable(getattr(model, str(condition.func), None)):
                        yield str(condition.func)


def _declaration(index: int, step: Transition) -> dict[str, Any]:
    return {
        "trigger": trigger_of(step),
        "source": list(step.source),
        "dest": step.to,
        "conditions": [guard_name(index)],
    }
