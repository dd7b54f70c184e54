"""A compiled chain as Promela, so that SPIN explores the same states by other means.

Language: SPIN's manual pages of Promela and of embedded C (spinroot.com). One `d_step` an event, with all reactions
that follow at once in it, so that SPIN stores exactly the settled states. The reactions are embedded C, because their
next values must not be stored (SPIN's breadth-first search admits no hidden variables).
"""

from collections.abc import Iterator
from typing import assert_never

from interlock.chain import ir, reference

__all__ = ["promela"]


def promela(chain: ir.Chain) -> str:
    """A model whose stored states are the reachable states of the chain."""
    return "\n".join(_Writer(chain).lines()) + "\n"


class _Writer:
    def __init__(self, chain: ir.Chain) -> None:
        self._chain = chain
        self._values = {field.name: field.values for field in chain.fields}

    def lines(self) -> Iterator[str]:
        start = reference.start(self._chain)
        for field in self._chain.fields:
            yield f"byte f_{field.name} = {field.values.index(start[field.name])};"
        yield from self._settle()
        yield "active proctype bench() {"
        yield "  do"
        for event in self._chain.events:
            yield from self._event(event)
        yield "  od"
        yield "}"

    def _settle(self) -> Iterator[str]:
        """All reactions, in rounds in which every device sees the same moment, until nothing changes."""
        yield "c_code {"
        yield "static void settle(void) {"
        yield "  int moved;"
        yield "  do {"
        yield "    moved = 0;"
        for device in self._chain.reactions:
            yield f"    unsigned char n_{device.device} = now.f_{device.device};"
            otherwise = ""
            for step in device.steps:
                value = self._values[device.device].index(step.to)
                ready = self._ready(step, device.device, "now.f_")
                yield f"    {otherwise}if ({ready}) n_{device.device} = {value};"
                otherwise = "else "
        for device in self._chain.reactions:
            new, old = f"n_{device.device}", f"now.f_{device.device}"
            yield f"    if ({new} != {old}) {{ {old} = {new}; moved = 1; }}"
        yield "  } while (moved);"
        yield "}"
        yield "}"

    def _event(self, event: ir.Event) -> Iterator[str]:
        """The first step that is possible is taken; without one the event cannot happen."""
        ready = " || ".join(self._ready(step, event.device, "f_") for step in event.steps)
        yield f"  :: d_step {{ ({ready}) -> /* {event.device} {event.trigger} */"
        for step in event.steps:
            value = self._values[event.device].index(step.to)
            yield f"      if :: {self._ready(step, event.device, 'f_')} -> f_{event.device} = {value} :: else ->"
        yield "      skip " + "fi " * len(event.steps) + ";"
        yield "      c_code { settle(); } }"

    def _ready(self, step: ir.Step, device: str, name: str) -> str:
        return self._term(ir.all_of([ir.Now(device, step.sources), step.guard]), name)

    def _term(self, term: ir.Term, name: str) -> str:
        """The term in the syntax that Promela and C share; `name` goes before each field."""
        match term:
            case ir.Const(truth):
                return str(int(truth))
            case ir.Now(field, values):
                numbers = [number for number, value in enumerate(self._values[field]) if value in values]
                return "(" + " || ".join(f"{name}{field} == {number}" for number in numbers) + ")"
            case ir.No(part):
                return f"!{self._term(part, name)}"
            case ir.All(parts):
                return "(" + " && ".join(self._term(part, name) for part in parts) + ")"
            case ir.Any(parts):
                return "(" + " || ".join(self._term(part, name) for part in parts) + ")"
            case ir.Was() | ir.By():
                raise TypeError(f"{term} speaks of more than the present")
            case _:
                assert_never(term)
