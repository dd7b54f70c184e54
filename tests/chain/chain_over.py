"""What is over by the time that an act is done, for the second opinions: told by the sound bench."""

from dataclasses import replace
from functools import cache

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.kind import Transition
from interlock.chain import ir
from interlock.chain.compile import compile_bench
from interlock.chain.quicker import run_out

Late = tuple[str, str]  # device and delay


def in_no_time(bench: Bench) -> Bench:
    """The bench of people who do everything at once."""
    kinds = {name: kinds_of(bench)[name] for name in {device.kind for device in bench.devices.values()}}
    return bench.model_copy(update={"kinds": {name: _at_once(kind) for name, kind in kinds.items()}})


def _at_once(kind: Kind) -> Kind:
    steps = [step.model_copy(update={"takes": 0}) for step in kind.transitions]
    return kind.model_copy(update={"transitions": steps})


_KEPT: dict[int, tuple[Bench, ir.Chain]] = {}


def _hasty(number: int, bench: Bench) -> ir.Chain:
    """Compiled once for all worlds of a bench; kept with it, so that no other one can get its number."""
    if number not in _KEPT:
        _KEPT[number] = (bench, compile_bench(in_no_time(bench)).chain)
    return _KEPT[number][1]


class Over:
    """Of each act of a bench the late reactions that have come by its end."""

    def __init__(self, bench: Bench) -> None:
        self._hasty = _hasty(id(bench), bench)
        self._kinds = {name: kinds_of(bench)[device.kind] for name, device in bench.devices.items()}
        self.of = cache(self._of)

    def _of(self, device: str, act: str, number: int) -> frozenset[Late]:
        declared = [one for one in self._kinds[device].transitions if one.act == act][number]
        found = next(one for one in self._hasty.events if (one.device, one.trigger) == (device, act))
        numbers = run_out(self._hasty, device, replace(found.steps[number], takes_ns=declared.takes))
        return frozenset((self._hasty.events[at].device, self._hasty.events[at].trigger) for at in numbers)

    def by(self, device: str, step: Transition) -> frozenset[Late]:
        """Device and delay of each; none if people need no time for the act."""
        if step.act is None or not step.takes:
            return frozenset()
        alike = [one for one in self._kinds[device].transitions if one.act == step.act]
        return self.of(device, step.act, alike.index(step))
