"""Whether the costs that a bench states for its proof test are of acts that there are."""

from collections.abc import Iterator
from typing import Final

from interlock.bench.models import Bench
from interlock.bench.names import Names, unknown
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["COST_CLASSES", "check_plan"]

COST_CLASSES: Final = (
    "act",
    "guard",
    "guard_under_load",
    "stop_under_load",
    "supply_on",
    "supply_stop",
    "supply_stop_under_load",
)
"""Acts that cost alike; what they are is told in `interlock.procedure.costs`."""


def check_plan(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Every cost of a class or of an act that the bench does not have."""
    if bench.plan is None:
        return
    acts = names.ports(lambda kind: (step.act for step in kind.transitions if step.act is not None))
    for name in bench.plan.costs:
        at: Path = ("plan", "costs", name)
        if "." in name:
            for strange in names.strange({name}, acts):
                yield from unknown(at, "act", {strange}, acts, at_key=True)
        else:
            yield from unknown(at, "class of acts", {name}, COST_CLASSES, at_key=True)
