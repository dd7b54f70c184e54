"""A whole bench run by the `transitions` library: the declared machines joined by the wiring, nothing compiled."""

from chain_over import Late, Over

from interlock.bench import Bench, kinds_of
from interlock.bench.expr import evaluate
from interlock.bench.kind import Transition
from interlock.chain.machines import declare, trigger_of


class Restless(Exception):
    """The machines do not come to rest."""


class MachineBench:
    """The machines of all devices, settled after power-up."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.over = Over(bench)
        kinds = kinds_of(bench)
        self.kinds = {name: kinds[device.kind] for name, device in bench.devices.items()}
        self.machines = {name: declare(kind) for name, kind in self.kinds.items()}
        self.settle()

    @property
    def state(self) -> dict[str, str]:
        return {name: model.state for name, (_, model) in self.machines.items()}

    def put(self, state: dict[str, str]) -> None:
        for name, (machine, model) in self.machines.items():
            machine.set_state(state[name], model)
        self._feed()

    def possible(self) -> list[tuple[str, str]]:
        """Device and trigger of each event that can happen now."""
        self._feed()
        return [
            (name, trigger)
            for name, kind in self.kinds.items()
            for trigger in dict.fromkeys(trigger_of(step) for step in kind.transitions)
            if trigger != "react" and self._can(name, trigger)
        ]

    def fire(self, device: str, trigger: str) -> None:
        """Let the library take the step, then let everything react."""
        _, model = self.machines[device]
        assert getattr(model, trigger)(), f"{device} refuses {trigger}"
        self.settle()

    def settle(self) -> None:
        met = []
        while True:
            before = self.state
            if before in met:
                raise Restless
            met.append(before)
            self._feed()
            for _, model in self.machines.values():
                if hasattr(model, "react"):
                    model.react()
            if self.state == before:
                return

    def _can(self, name: str, trigger: str) -> bool:
        _, model = self.machines[name]
        if not getattr(model, f"may_{trigger}")():
            return False
        over = set[Late]().union(*(self.over.by(name, step) for step in self._enabled(name, trigger)))
        return not any(
            getattr(self.machines[device][1], f"may_late_{delay}", lambda: False)() for device, delay in over
        )

    def _enabled(self, name: str, trigger: str) -> list[Transition]:
        state = self.machines[name][1].state
        return [
            step
            for step in self.kinds[name].transitions
            if trigger_of(step) == trigger and state in step.source
        ]

    def _feed(self) -> None:
        values = {
            f"{name}.{output}": evaluate(expr, model.state.__eq__)
            for name, (_, model) in self.machines.items()
            for output, expr in self.kinds[name].outputs.items()
        }
        for port, expr in self.bench.wiring.items():
            device, needed = port.split(".")
            self.machines[device][1].inputs[needed] = evaluate(expr, values.__getitem__)
