"""The log as the bench description reads it: one track for each thing that a device shows."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from interlock.bench import Bench, kinds_of
from interlock.bench.bridged import is_bridged
from interlock.bench.expr import And, Const, Expr, Name, Not, Or, names, rename
from interlock.bench.observe import Comparison, Condition, Operator, SignalName
from interlock.bench.shows_models import Shows
from interlock.bench.sources import delay_of, message_of
from interlock.errors import InterlockError
from interlock.interval import Interval
from interlock.replay.modes import applies, mode_changes, narrowed
from interlock.replay.stamps import silences
from interlock.timing.edges import Change
from interlock.timing.track import Clock, States, Track, combine, condition_states, follow, invert
from interlock.trace.model import Samples, Trace

__all__ = ["Observation"]


@dataclass(frozen=True)
class Observation:
    """A trace seen through a bench description."""

    bench: Bench
    shows: Shows
    trace: Trace

    def clock_of(self, message: str) -> Clock:
        """The clock of a message's stamps."""
        width_ns = self.trace.message_width_ns.get(message, self.trace.resolution_ns)
        return Clock.of(delay_of(self.shows, message), width_ns)

    @cached_property
    def tracks(self) -> Mapping[str, Track]:
        """The track of every output that the bench shows and that tells something, by port."""
        units = self.bench.required.effects.torque_off.of
        idle = {f"{unit}.enabled" for unit in units if is_bridged(self.bench, unit)}
        return {port: self._track(port, Name(port)) for port in self.shows.states if port not in idle}

    @cached_property
    def _beyond(self) -> dict[tuple[str, Comparison], Track]:
        """Tracks of values beyond a bound that were asked for before."""
        return {}

    @cached_property
    def demands(self) -> Mapping[str, Track]:
        """When each demanding device demands, by device; devices that the log does not show are absent."""
        found = {}
        for function in self.bench.required.functions.values():
            demand = self._demand(function.demand)
            if demand is not None:
                found[function.demand] = self._track(function.demand, demand)
        return found

    def _demand(self, device: str) -> Expr | None:
        """The condition on the device's outputs under which it demands; None: the log does not show it."""
        demand = kinds_of(self.bench)[self.bench.devices[device].kind].demand
        if demand is None or any(f"{device}.{name}" not in self.shows.states for name in names(demand)):
            return None
        return _at_device(demand, device)

    @cached_property
    def asked(self) -> Mapping[str, Track]:
        """When each function is demanded, in a mode in which it is required; those not shown in the log are absent."""
        return {
            name: self.demands[function.demand] if function.in_modes is None else self._in_modes(name)
            for name, function in self.bench.required.functions.items()
            if function.demand in self.demands
        }

    def _in_modes(self, name: str) -> Track:
        """The function's demand, narrowed to its modes; in one message both are taken from the same sample."""
        function, required = self.bench.required.functions[name], self._requires(name)
        demand = self._demand(function.demand)
        if required is None or demand is None:
            return self.demands[function.demand]
        if self._messages(demand) == self._messages(required):
            return self._track(name, And((demand, required)))
        return narrowed(self.demands[function.demand], self._track(name, required))

    def _requires(self, name: str) -> Expr | None:
        """The condition on the mode selector under which the function is required; None: it always is."""
        modes, own = self.bench.required.modes, self.bench.required.functions[name].in_modes
        return None if modes is None or own is None else applies(modes, own)

    @cached_property
    def requires(self) -> Mapping[str, Track]:
        """When each function is required by the mode; those that always are, are absent."""
        every = {name: self._requires(name) for name in self.bench.required.functions}
        return {name: self._track(name, one) for name, one in every.items() if one is not None}

    @cached_property
    def selected(self) -> Mapping[str, Track]:
        """When each mode is selected, by mode."""
        modes = self.bench.required.modes
        each = {} if modes is None else modes.each
        return {name: self._track(name, mode.selected) for name, mode in each.items()}

    @cached_property
    def mode_changes(self) -> list[Change]:
        """Every change of the selected mode, in order."""
        return mode_changes(self.selected.values())

    @cached_property
    def silences(self) -> list[Interval]:
        """Stretches without any frame at all: how much time passed in them is not certain."""
        return silences(self.trace, self.shows)

    def silent(self, lo_ns: int, hi_ns: int) -> bool:
        """Whether such a stretch lies between two instants, or reaches in."""
        return any(one.lo < hi_ns and (one.hi is None or one.hi > lo_ns) for one in self.silences)

    def beyond(self, port: str, operator: Operator, bound: float, *, magnitude: bool) -> Track | None:
        """When the value shown at `port` was beyond a bound; None if the bench shows no such value."""
        name = self.shows.values.get(port)
        if name is None:
            return None
        comparison = Comparison(name, magnitude, operator, bound, "")
        if (port, comparison) not in self._beyond:  # asked for at each stop
            states = self._states(Condition((comparison,), True, ""))
            track = follow(
                port, self._samples([name]), states, self.trace.quality, self.clock_of(name.message)
            )
            self._beyond[port, comparison] = track
        return self._beyond[port, comparison]

    def track_of(self, condition: Condition) -> Track:
        """When a condition on the signals of one message held."""
        states = self._states(condition)
        samples = self._samples([one.name for one in condition.comparisons])
        clock = self.clock_of(samples[0].message)
        return follow(condition.text, samples, states, self.trace.quality, clock)

    def device_name(self, device: str) -> str:
        """What people call the device."""
        return self.bench.devices[device].name

    def _messages(self, expr: Expr) -> set[str]:
        return {one.name.message for port in names(expr) for one in self.shows.states[port].comparisons}

    def _track(self, name: str, expr: Expr) -> Track:
        used = {one.name for port in names(expr) for one in self.shows.states[port].comparisons}
        if len({one.message for one in used}) > 1:
            raise InterlockError(
                f"shows of '{name}': its signals {', '.join(sorted(map(str, used)))} come in different messages;"
                " name signals of one message, so that they were sampled together"
            )
        states = _kleene(expr, lambda port: self._states(self.shows.states[port]))
        samples = self._samples(list(used))
        return follow(name, samples, states, self.trace.quality, self.clock_of(samples[0].message))

    def _states(self, condition: Condition) -> States:
        samples = self._samples([one.name for one in condition.comparisons])
        message = message_of(self.shows, condition.comparisons[0].name.message)
        uncertain = {signal: amount.value for signal, amount in message.uncertain.items()}
        return condition_states(condition, {one.signal: one for one in samples}, uncertain)

    def _samples(self, wanted: list[SignalName]) -> list[Samples]:
        samples = [self.trace.signals.get(str(name)) or _no_samples(name) for name in wanted]
        for one in samples[1:]:
            _refuse_apart(samples[0], one)
        return samples


def _refuse_apart(first: Samples, second: Samples) -> None:
    """Raise InterlockError if two signals of a message come in different frames of it."""
    apart = first.times_ns is not second.times_ns and not np.array_equal(first.times_ns, second.times_ns)
    if apart and first.message == second.message:
        raise InterlockError(
            f"shows: {first.signal} and {second.signal} of {first.message} come in different frames of it (they are"
            " multiplexed), so nobody can tell what held at one instant; name signals that come in the same frame"
        )


def _no_samples(name: SignalName) -> Samples:
    """A signal that the log lacks: one sample of which nothing is known."""
    return Samples(name.message, name.signal, "", np.zeros(1, dtype=np.int64), np.full(1, np.nan))


def _at_device(expr: Expr, device: str) -> Expr:
    return rename(expr, lambda name: Name(f"{device}.{name}"))


def _kleene(expr: Expr, states: Callable[[str], States]) -> States:
    match expr:
        case Name(name):
            return states(name)
        case Not(part):
            return invert(_kleene(part, states))
        case And(parts):
            return combine((_kleene(part, states) for part in parts), every=True)
        case Or(parts):
            return combine((_kleene(part, states) for part in parts), every=False)
        case Const():
            raise InterlockError(
                "a demand that is always or never present cannot be seen in a log; name an output"
            )
