"""What a description holds and no requirement speaks of: told with every result, since nothing is proved of it."""

from collections.abc import Iterator

from interlock.bench import Bench, kinds_of
from interlock.bench.consistency import required_devices
from interlock.bench.expr import names

__all__ = ["left_over"]


def left_over(bench: Bench) -> Iterator[str]:
    """A sentence for each stop device that no function names, each device whose outputs nothing reads, each unit that
    is not said to turn the shaft, each unit that a stop of the supply leaves fed.
    """
    kinds, required = kinds_of(bench), required_devices(bench)
    read = {name.partition(".")[0] for expr in bench.wiring.values() for name in names(expr)}
    shown = set() if bench.shows is None else {port.partition(".")[0] for port in bench.shows.states}
    for device, described in bench.devices.items():
        kind = kinds[described.kind]
        if device in required:
            continue
        if kind.demand is not None:
            yield (
                f"No function names the {described.name}, though a device of its kind can demand a stop: nothing is "
                "proved of a stop by it. Add a function if the risk assessment asks for one."
            )
        elif kind.outputs and device not in read | shown:
            yield (
                f"Nothing reads any output of the {described.name}, and nothing is required of it: it has no part in "
                "this proof. Compare the wiring with the bench."
            )
    yield from _turns_nothing(bench)
    yield from _stays_fed(bench)


def _turns_nothing(bench: Bench) -> Iterator[str]:
    """A unit whose torque does not drive the shaft that is to stand: what it turns is never waited for."""
    effects = bench.required.effects
    line = None if effects.standstill is None else bench.wiring.get(f"{effects.standstill.of}.driven")
    if effects.standstill is None or line is None:
        return
    shaft = effects.standstill.of
    for unit in effects.torque_off.of:
        if f"{unit}.torque" not in names(line):
            yield (
                f"The torque of the {bench.devices[unit].name} does not stand in {shaft}.driven: in this proof it "
                f"never turns the {bench.devices[shaft].name}, and neither standstill nor a lock waits for it. If it "
                "can turn it, name it there."
            )


def _stays_fed(bench: Bench) -> Iterator[str]:
    """A unit that is not fed through the contactor by which a stop of it takes the supply."""
    opened = bench.required.effects.contactor_open
    told = set[tuple[str, str]]()
    for name, function in bench.required.functions.items():
        contactors = [] if function.supply is None else [function.supply.of]
        contactors += [opened.of] if opened is not None and "contactor_open" in function.effects else []
        told |= {(contactor, unit) for contactor in contactors for unit in bench.required.units_of(name)}
    for contactor, unit in sorted(told):
        ways = _feeding(bench, unit)
        if ways is not None and f"{contactor}.main" not in ways:
            called, main = bench.devices[unit].name, bench.devices[contactor].name
            yield (
                f"The {called} is not fed through the {main}: opening it takes no supply from that unit, and nothing "
                "is proved of what does feed it. If it is fed through it, say so in the wiring."
            )


def _feeding(bench: Bench, unit: str) -> set[str] | None:
    """The contacts between the supply and a unit, those before a bus too; None if its kind says nothing of a supply."""
    kinds, contacts, met, waiting = kinds_of(bench), set[str](), set[str](), [unit]
    while waiting:
        device = waiting.pop()
        met.add(device)
        lines = [bench.wiring.get(f"{device}.{power}") for power in kinds[bench.devices[device].kind].no_wire]
        contacts |= {contact for line in lines if line is not None for contact in names(line)}
        waiting += {contact.partition(".")[0] for contact in contacts} - met
    return contacts if kinds[bench.devices[unit].kind].no_wire else None
