"""What can make a difference to a device: all that its guards speak of, and what their guards speak of in turn."""

from collections.abc import Iterable, Mapping

from interlock.chain import ir

__all__ = ["fields_of", "reached", "upstream"]


def upstream(chain: ir.Chain, devices: Iterable[str]) -> frozenset[str]:
    """The devices themselves and all that can make a difference to them."""
    reads: dict[str, set[str]] = {field.name: set() for field in chain.fields}
    moves = [(one.device, one.steps) for one in chain.reactions]
    moves += [(one.device, one.steps) for one in chain.events]
    for device, steps in moves:
        reads[device] |= fields_of(steps)
    wanted = frozenset(devices)
    return wanted.union(*(reached(device, reads) for device in wanted))


def fields_of(steps: Iterable[ir.Step]) -> set[str]:
    """The fields that the guards of steps speak of."""
    return {atom.field for step in steps for atom in ir.atoms(step.guard) if isinstance(atom, ir.Now)}


def reached(device: str, reads: Mapping[str, set[str]]) -> set[str]:
    """All that one comes to by reading on from the device."""
    found, todo = set[str](), [device]
    while todo:
        new = reads[todo.pop()] - found
        found |= new
        todo.extend(new)
    return found
