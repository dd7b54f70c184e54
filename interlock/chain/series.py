"""Guards in series of a whole bench (ISO/TR 24119); how they are found stands in `interlock.bench.series`."""

from interlock.bench import Bench, kinds_of
from interlock.bench.series import Cabling, Series, cabling_in, series_in

__all__ = ["Cabling", "Series", "cabling_of", "series_of"]


def series_of(bench: Bench) -> tuple[Series, ...]:
    """For each device, the guards that share a path to one of its inputs; a guard alone makes no series."""
    kinds = kinds_of(bench)
    return series_in(bench, {name: kinds[device.kind] for name, device in bench.devices.items()})


def cabling_of(bench: Bench, guards: tuple[str, ...]) -> Cabling:
    """Whether the guards share a cable; not said if of some guard no line, or only some of its contacts, is in one."""
    kinds = kinds_of(bench)
    return cabling_in(bench, guards, {name: kinds[device.kind] for name, device in bench.devices.items()})
