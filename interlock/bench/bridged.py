"""How a unit is fed: can only its supply take its torque away, and what may still feed it once that is off?"""

from interlock.bench.expr import Const, Expr, names
from interlock.bench.load import kinds_of
from interlock.bench.models import Bench

__all__ = ["buses_beside", "is_bridged"]


def is_bridged(bench: Bench, unit: str) -> bool:
    """Whether no wire reaches a torque-off input of the unit, though it has such inputs and is fed by a supply."""
    kind = kinds_of(bench)[bench.devices[unit].kind]
    wired = [bench.wiring.get(f"{unit}.{one}") for one in kind.off_channels]
    return bool(wired) and "supply" in kind.inputs and all(one == Const(True) for one in wired)


def buses_beside(bench: Bench, unit: str) -> list[str]:
    """The buses that a device feeds which feeds the unit too, where the wire of the unit does not name the bus.

    Such a bus holds its charge after that device has opened, and it may be the one that the unit hangs on.
    """
    supply = bench.wiring.get(f"{unit}.supply")
    if supply is None:
        return []
    feeding, kinds = _devices(supply), kinds_of(bench)
    return [
        bus
        for bus, described in bench.devices.items()
        if "live" in kinds[described.kind].outputs
        and bus not in feeding
        and any(
            _devices(wire) & feeding for port, wire in bench.wiring.items() if port.partition(".")[0] == bus
        )
    ]


def _devices(wire: Expr) -> set[str]:
    return {port.partition(".")[0] for port in names(wire)}
