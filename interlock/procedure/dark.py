"""Faults that no act at the bench shows: why that is so, and what a person inspects or measures instead."""

from interlock.bench import Bench, Kind, kinds_of
from interlock.bench.expr import Const, names
from interlock.bench.wire_faults import WIRE
from interlock.chain.fault_list import BenchFault
from interlock.procedure.plan import Dark

__all__ = ["dark"]

_WHY = "no lawful act at the bench changes what can be seen of it, since another part does the same or nothing asks it"
_ORDER = "it shows only if the contacts of one device happen to move in a certain order"


def dark(bench: Bench, fault: BenchFault, *, by_order: bool) -> Dark:
    """The fault with what to do instead; `by_order`: it shows in one order of contacts only."""
    kind = kinds_of(bench)[bench.devices[fault.device].kind]
    return Dark(fault.id, fault.words, _ORDER if by_order else _WHY, _inspect(bench, kind, fault))


def _inspect(bench: Bench, kind: Kind, fault: BenchFault) -> str:
    name, said = bench.devices[fault.device].name, fault.fault
    off = "With the supply locked off and proved dead"
    if fault.cable:
        name = bench.cables[fault.cable].name
        return f"{off}, measure these two lines of the {name} against each other; they must not meet."
    if fault.name.startswith(WIRE):
        wire = "measure the wire for contact with the supply and with its neighbours"
        if all(expr == Const(False) for expr in said.inputs.values()):
            wire = "measure the wire from end to end"
        return f"{off}, {wire}, and inspect its laying and terminals at the {name}."
    if any(port in kind.off_channels for port in said.inputs):
        if any(not isinstance(expr, Const) for expr in said.inputs.values()):
            return f"{off}, measure the two torque-off wires of the {name} against each other; they must not meet."
        return (
            f"Test each torque-off channel of the {name} alone, by its maker's instructions: "
            "open one line at its terminal, the shaft free, and see that the unit cannot be enabled."
        )
    bent = [expr for expr in said.outputs.values() if not isinstance(expr, Const)]
    if bent and kind.delays and all(set(names(expr)) <= set(kind.states) for expr in bent):
        times = " and ".join(one.replace("_", " ") for one in kind.delays)
        return f"Time the {times} of the {name}, and compare it with what the bench file states."
    if any(not isinstance(expr, Const) for expr in (*said.inputs.values(), *said.outputs.values())):
        return f"{off}, measure the lines of the two channels at the {name} against each other; they must not meet."
    if said.outputs:
        contacts = ", ".join(said.outputs)
        return f"{off}, measure contact {contacts} of the {name} for opening and closing while it is operated by hand."
    if said.inputs:
        return f"Test the input {', '.join(said.inputs)} of the {name} by its maker's instructions."
    return f"Inspect the {name} by its maker's instructions, and replace it when its stated life is used up."
