"""Whether the temperatures that a bench is rated for are of values that its devices show."""

from collections.abc import Iterator

from interlock.bench.models import Bench
from interlock.bench.names import Names
from interlock.bench.quantity import same_unit
from interlock.bench.yaml_source import Mistake, Path

__all__ = ["check_ratings", "is_temperature"]


def check_ratings(bench: Bench, names: Names) -> Iterator[Mistake]:
    """Every temperature of a value that no device has, or that is none."""
    known = names.ports(lambda kind: (name for name, unit in kind.values.items() if is_temperature(unit)))
    for port in bench.bench.ratings.temperatures:
        at: Path = ("bench", "ratings", "temperatures", port)
        yield from names.strays(at, "temperature", {port}, known, at_key=True)


def is_temperature(unit: str) -> bool:
    """Whether a value in this unit is a temperature in degrees Celsius."""
    return same_unit(unit, "degC")
