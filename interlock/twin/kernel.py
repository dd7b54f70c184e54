"""An agenda of timed happenings and the nets that they set: events in continuous time, no ticks."""

import heapq
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from itertools import count
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from interlock.twin.nets import Net, Terminal
from interlock.twin.stuck import Faults

__all__ = ["Floats", "Kernel", "Track"]

Floats: TypeAlias = NDArray[np.float64]


@dataclass(slots=True)
class Track:
    """The whole story of one net: `values[k]` holds from `times[k]` up to, not including, `times[k + 1]`."""

    times: list[float] = field(default_factory=lambda: [0.0])
    values: list[float] = field(default_factory=lambda: [0.0])

    def sample(self, at_s: Floats) -> Floats:
        """The values at the instants `at_s` (seconds, any order)."""
        places = np.searchsorted(np.asarray(self.times), at_s, side="right") - 1
        sampled: Floats = np.asarray(self.values)[np.maximum(places, 0)]
        return sampled

    def set(self, at_s: float, value: float) -> None:
        """Appends a change; a second one at the same instant replaces the first."""
        if self.times[-1] == at_s:
            self.values[-1] = value
        else:
            self.times.append(at_s)
            self.values.append(value)


class Kernel:
    """Runs happenings in order of time and tells those who watch a net that it changed."""

    def __init__(self, initial: Mapping[Net, float], faults: Faults | None = None) -> None:
        self.faults = Faults() if faults is None else faults
        self.now = 0.0
        self.demand = -1  # number of the demand in force; -1: none yet
        self.tracks = {net: Track(values=[float(initial.get(net, 0.0))]) for net in Net}
        self._agenda: list[tuple[float, int, Callable[[], None]]] = []
        self._order = count()
        self._watchers: dict[Net, list[Callable[[], None]]] = {net: [] for net in Net}
        for where, value in self.faults.stuck.items():
            if isinstance(where, Net):
                self.after(0.0, partial(self._set, where, value))

    def __getitem__(self, net: Net) -> float:
        return self.tracks[net].values[-1]

    def put(self, net: Net, value: float) -> None:
        """Sets a net now, unless it is stuck; those who watch it hear of it if it changed."""
        if net not in self.faults.stuck:
            self._set(net, value)

    def contact(self, net: Net) -> bool:
        """Whether the contact's line carries current, be it by way of a line that is shorted to it."""
        other = self.faults.partner.get(net)
        return bool(self[net] or (isinstance(other, Net) and self[other]))

    def at(self, terminal: Terminal, brought: bool, beside: bool = False) -> bool:
        """What reaches the terminal by its wire; `beside`: what the wire next to it brings."""
        if terminal in self.faults.stuck:
            return bool(self.faults.stuck[terminal])
        return brought or (beside and terminal in self.faults.partner)

    def _set(self, net: Net, value: float) -> None:
        if self[net] != value:
            self.tracks[net].set(self.now, float(value))
            for heard in self._watchers[net]:
                heard()

    def watch(self, heard: Callable[[], None], *nets: Net) -> None:
        """Calls `heard` after each change of one of the nets."""
        for net in nets:
            self._watchers[net].append(heard)

    def after(self, delay_s: float, what: Callable[[], None]) -> None:
        """Has `what` happen `delay_s` from now."""
        heapq.heappush(self._agenda, (self.now + delay_s, next(self._order), what))

    def run(self, end_s: float) -> None:
        """Lets everything happen that is due up to `end_s`."""
        while self._agenda and self._agenda[0][0] <= end_s:
            self.now, _, what = heapq.heappop(self._agenda)
            what()
