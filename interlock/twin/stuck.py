"""Single faults of contacts, wires and commands on the simulated bench: there from the start and for good."""

from collections.abc import Iterable
from dataclasses import dataclass

from interlock.twin.acts import Act
from interlock.twin.nets import Net, Terminal

__all__ = ["BusyStart", "Fault", "Faults", "Joined", "Refused", "Stuck"]


@dataclass(frozen=True, slots=True)
class Stuck:
    """A contact that no longer moves, or a wire that brings its device always the same."""

    where: Net | Terminal
    value: int


@dataclass(frozen=True, slots=True)
class Joined:
    """Two lines shorted to each other: each carries what either of them carries."""

    first: Net | Terminal
    second: Net | Terminal


@dataclass(frozen=True, slots=True)
class Refused:
    """From an instant on (s) an act does nothing: the button sticks."""

    act: Act
    from_s: float = 0.0


@dataclass(frozen=True, slots=True)
class BusyStart:
    """The unit with this state net takes a start command as given all the time."""

    unit: Net


Fault = Stuck | Joined | Refused | BusyStart


class Faults:
    """The faults of one run, asked by place."""

    def __init__(self, faults: Iterable[Fault] = ()) -> None:
        every = tuple(faults)
        self.stuck = {one.where: float(one.value) for one in every if isinstance(one, Stuck)}
        self._refused = [one for one in every if isinstance(one, Refused)]
        self._busy = {one.unit for one in every if isinstance(one, BusyStart)}
        self.partner: dict[Net | Terminal, Net | Terminal] = {}
        for one in every:
            if isinstance(one, Joined):
                self.partner |= {one.first: one.second, one.second: one.first}

    def refuses(self, act: Act, now_s: float) -> bool:
        """Whether the act does nothing now."""
        return any(one.act is act and now_s >= one.from_s for one in self._refused)

    def starts_itself(self, unit: Net) -> bool:
        """Whether the unit with this state net is told to start all the time."""
        return unit in self._busy
