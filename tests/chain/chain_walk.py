"""Walks through a bench by named acts, with the observers brought along: for tests told as a story."""

from interlock.bench import Bench
from interlock.chain import ir, reference
from interlock.chain.compile import compile_bench
from interlock.chain.observers import observers
from interlock.chain.requirement import Requirement


class Walk:
    """A bench just powered up; `do` takes acts and late reactions by device and trigger."""

    def __init__(self, bench: Bench) -> None:
        self.required = Requirement(bench, compile_bench(bench))
        self.chain, self.observers = self.required.compiled.chain, observers(self.required)
        start = reference.start(self.chain)
        blank = {observer.field.name: observer.field.start for observer in self.observers}
        self.was = self.now = reference.watch(self.observers, {**start, **blank}, start, None)
        self.event: int | None = None

    def do(self, *story: str) -> "Walk":
        """Each word is `device.trigger`; a step that cannot happen is an error."""
        for word in story:
            self._step(*word.split("."))
        return self

    def can(self, word: str) -> bool:
        device, trigger = word.split(".")
        event = self.chain.events[self._number(device, trigger)]
        return reference.step_taken(event, self._devices()) is not None

    def holds(self, term: ir.Term) -> bool:
        """The truth of a term about the last step, or about now."""
        return reference.holds(term, self.was, self.now, self.event)

    def __getitem__(self, field: str) -> str:
        return self.now[field]

    def _step(self, device: str, trigger: str) -> None:
        number = self._number(device, trigger)
        step = reference.step_taken(self.chain.events[number], self._devices())
        assert step is not None, f"{device}.{trigger} cannot happen"
        after = reference.settle(self.chain, {**self._devices(), device: step.to})
        self.was, self.event = self.now, number
        self.now = reference.watch(self.observers, self.now, after, number)

    def _number(self, device: str, trigger: str) -> int:
        [number] = [
            number
            for number, event in enumerate(self.chain.events)
            if (event.device, event.trigger) == (device, trigger)
        ]
        return number

    def _devices(self) -> reference.State:
        return {field.name: self.now[field.name] for field in self.chain.fields}
