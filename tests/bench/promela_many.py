"""Many chains, with what requirements remember and forbid, in one Promela model, so that gcc runs once for all.

Which chain a run explores is said by an environment variable. Events, reactions, observers and what must never be are
embedded C (SPIN's manual page c_code); Promela chooses among the events. Terms mean what `interlock.chain.ir` says.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import assert_never

from interlock.chain import ir, reference

__all__ = ["HEADER", "WHICH", "Case", "promela_many"]

WHICH = "CHAIN"
"""The environment variable that says the number of the case to explore."""


@dataclass(frozen=True)
class Case:
    """A chain, observers, and a term about events that must never be true (power-up is no event)."""

    chain: ir.Chain
    observers: tuple[ir.Observer, ...] = ()
    never: ir.Term = ir.FALSE


HEADER = "chains.h"
"""The file of C functions that the model includes; SPIN takes no long texts."""


def promela_many(cases: Sequence[Case]) -> tuple[str, str]:
    """A model and its header. Each run stores the states of one case, and one more: that before it was chosen."""
    writers = [_Writer(number, case) for number, case in enumerate(cases)]
    most = max(len(one.index) for one in writers)
    events = max(len(case.chain.events) for case in cases)
    lines = ["#include <stdlib.h>", "#include <string.h>"]
    lines += [f"static unsigned char was[{most}], next[{most}]; static int by, which = -1;"]
    lines += [line for one in writers for line in one.functions()]
    for name, result, needs, passes in (
        ("start", "void", "void", ""),
        ("can", "int", "int e", "e"),
        ("go", "void", "int e", "e"),
        ("bad", "int", "void", ""),
    ):
        lines += [f"static {result} {name}({needs}) {{ switch (which) {{"]
        gives = "return " if result == "int" else ""
        lines += [f"case {number}: {gives}{name}_{number}({passes}); break;" for number in range(len(cases))]
        lines += ["} return 0; }" if gives else "} }"]
    lines += [f'static void choose(void) {{ which = atoi(getenv("{WHICH}")); now.begun = 1; start(); }}']
    lines += [f"#define CAN_{number} (now.begun && can({number}))" for number in range(events)]
    return _model(most, events), "\n".join(lines) + "\n"


def _model(most: int, events: int) -> str:
    lines = [f"byte v[{most}];", "byte begun;", f'c_code {{ #include "{HEADER}" }}']
    lines += ["active proctype bench() { do", ":: d_step { begun == 0 -> c_code { choose(); } }"]
    for number in range(events):
        lines += [
            f":: d_step {{ c_expr {{ CAN_{number} }} -> c_code {{ go({number}); }}; c_code [!bad()] {{ ; }} }}"
        ]
    return "\n".join([*lines, "od }"]) + "\n"


class _Writer:
    def __init__(self, number: int, case: Case) -> None:
        self.number, self.case = number, case
        self.fields = [*case.chain.fields, *(one.field for one in case.observers)]
        self.index = {field.name: at for at, field in enumerate(self.fields)}
        self.values = {field.name: field.values for field in self.fields}

    def functions(self) -> Iterator[str]:
        """The C functions of this case."""
        chain = self.case.chain
        yield f"static void settle_{self.number}(void) {{ int moved; do {{"
        yield "moved = 0; memcpy(next, now.v, sizeof(next));"
        for device in chain.reactions:
            yield self._first(device.device, device.steps, "next")
        yield "if (memcmp(next, now.v, sizeof(next))) { moved = 1; memcpy(now.v, next, sizeof(next)); }"
        yield "} while (moved); }"
        yield from self._start()
        yield f"static int can_{self.number}(int e) {{ switch (e) {{"
        for number, event in enumerate(chain.events):
            ready = " || ".join(self._ready(step, event.device) for step in event.steps) or "0"
            yield f"case {number}: return {ready};"
        yield "} return 0; }"
        yield f"static void go_{self.number}(int e) {{ memcpy(was, now.v, sizeof(was)); by = e; switch (e) {{"
        for number, event in enumerate(chain.events):
            yield f"case {number}: {self._first(event.device, event.steps, 'now.v')} break;"
        yield f"}} settle_{self.number}();"
        yield from self._watch()
        yield "}"
        yield f"static int bad_{self.number}(void) {{ return {self._term(self.case.never)}; }}"

    def _start(self) -> Iterator[str]:
        """Power comes up: the devices settle by themselves, then the observers look."""
        state = {
            **reference.start(self.case.chain),
            **{one.field.name: one.field.start for one in self.case.observers},
        }
        yield f"static void start_{self.number}(void) {{ by = -1;"
        for name, at in self.index.items():
            yield f"now.v[{at}] = {self.values[name].index(state[name])};"
        yield "memcpy(was, now.v, sizeof(was));"
        yield from self._watch()
        yield "memcpy(was, now.v, sizeof(was)); }"

    def _watch(self) -> Iterator[str]:
        for observer in self.case.observers:
            name = observer.field.name
            pairs = ((self._term(term), self._number(name, value)) for term, value in observer.updates)
            yield " else ".join(f"if ({term}) now.v[{self.index[name]}] = {value};" for term, value in pairs)

    def _first(self, device: str, steps: Sequence[ir.Step], into: str) -> str:
        at = self.index[device]
        parts = (
            f"if ({self._ready(step, device)}) {into}[{at}] = {self._number(device, step.to)};"
            for step in steps
        )
        return " else ".join(parts)

    def _ready(self, step: ir.Step, device: str) -> str:
        return self._term(ir.all_of([ir.Now(device, step.sources), step.guard]))

    def _number(self, field: str, value: str) -> int:
        return self.values[field].index(value)

    def _one_of(self, what: str, numbers: Sequence[int]) -> str:
        return "(" + (" || ".join(f"{what} == {number}" for number in sorted(numbers)) or "0") + ")"

    def _term(self, term: ir.Term) -> str:
        match term:
            case ir.Const(truth):
                return str(int(truth))
            case ir.Now(field, values):
                return self._one_of(
                    f"now.v[{self.index[field]}]", [self._number(field, one) for one in values]
                )
            case ir.Was(field, values):
                return self._one_of(f"was[{self.index[field]}]", [self._number(field, one) for one in values])
            case ir.By(events):
                return self._one_of("by", list(events))
            case ir.No(part):
                return f"!{self._term(part)}"
            case ir.All(parts):
                return "(" + " && ".join(map(self._term, parts)) + ")"
            case ir.Any(parts):
                return "(" + " || ".join(map(self._term, parts)) + ")"
            case _:
                assert_never(term)
