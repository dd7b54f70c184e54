"""What a device kind may say: its inputs, states, outputs and transitions, as plain declarations."""

import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Final, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic.config import JsonDict

from interlock.bench.expr import WORDS, Expr, evaluate, parse
from interlock.bench.quantity import Quantity, example_of, parse_quantity, quantity_pattern, time_ns
from interlock.bench.refusal import Refusal, quoted

__all__ = [
    "Duration",
    "Expression",
    "Fault",
    "Identifier",
    "Identifiers",
    "Kind",
    "PositiveDuration",
    "Record",
    "Text",
    "Transition",
    "quantity_of",
    "written",
]

T = TypeVar("T")
_LONGEST: Final = 2000  # of an expression or condition


class Record(BaseModel):
    """Strict, frozen, nothing unknown."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True)


def written(parse: Callable[[str], T], result: type[T], example: str) -> BeforeValidator:
    """Reads text like `example` by `parse`, which raises Refusal; what is a `result` already stays as it is."""

    def read(value: object) -> T:
        if isinstance(value, result):
            return value
        if not isinstance(value, str):
            raise Refusal(f"{quoted(value)} is no text", f"write text such as '{example}'")
        if len(value) > _LONGEST:
            raise Refusal(f"it is longer than {_LONGEST:,} characters", "say it in several entries")
        return parse(value)

    return BeforeValidator(read, json_schema_input_type=Annotated[str, Field(examples=[example])])


def quantity_of(dimension: str, *, positive: bool = False) -> BeforeValidator:
    """Reads text as a quantity of `dimension`; `positive`: of more than zero."""

    def read(value: object) -> Quantity:
        found = value if isinstance(value, Quantity) else parse_quantity(value, dimension)
        if positive and found.value <= 0:
            raise Refusal(f"{quoted(found)} is not above zero", f"write a {dimension} above zero")
        return found

    return BeforeValidator(read, json_schema_input_type=_text_of(dimension))


def _duration(least_ns: int, wrong: str, right: str) -> BeforeValidator:
    def read(value: object) -> int:
        found = time_ns(parse_quantity(value, "time"))
        if found < least_ns:
            raise Refusal(f"{quoted(value)} is {wrong}", f"write a time {right}")
        return found

    return BeforeValidator(read, json_schema_input_type=_text_of("time"))


def _text_of(dimension: str) -> Any:
    return Annotated[str, Field(pattern=quantity_pattern(dimension), examples=[example_of(dimension)])]


def _identifier(text: str) -> str:
    if text in WORDS:
        raise Refusal(f"{quoted(text)} is a word of the wiring language", "choose another name")
    return text


def _one_or_many(value: object) -> object:
    return [value] if isinstance(value, str) else value


def _visible(text: str) -> str:
    if not text.strip():
        raise Refusal("it is empty", "write what a reader needs to know")
    return text


def _act_words(text: str) -> str:
    if re.search(r"[{}]", text.replace("{name}", "")):
        raise Refusal("it holds a brace", "write {name} where the device's name belongs, and no other brace")
    return text


Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$"), AfterValidator(_identifier)]
_Several = Annotated[list[Identifier], Field(min_length=1)]
Identifiers = Annotated[_Several, BeforeValidator(_one_or_many, json_schema_input_type=Identifier | _Several)]
"""One or several; a single one may be written without brackets."""
Text = Annotated[str, Field(min_length=1), AfterValidator(_visible)]
Expression = Annotated[Expr, written(parse, Expr, "cover.a and cover.b")]
Duration = Annotated[int, _duration(0, "negative", "of zero or more")]
"""A time, written with its unit, held in integer nanoseconds."""
PositiveDuration = Annotated[int, _duration(1, "not above zero", "above zero")]
"""The same, where zero would make no sense."""


_BLOCK: Final = r"^[a-z][a-z0-9_]*( to [a-z][a-z0-9_]*)?$"


def _block(text: str) -> str:
    if re.fullmatch(_BLOCK, text) is None:
        why = f"{quoted(text)} names no transition"
        raise Refusal(why, "write an act, a delay, or two states such as 'picked to dropped'")
    return text


Block = Annotated[
    str, Field(json_schema_extra={"pattern": _BLOCK, "examples": ["drop_out"]}), AfterValidator(_block)
]
"""Transitions that no longer happen: those of an act, those after a delay, or those from one state to another."""

_EXAMPLE: Final[JsonDict] = {"when": "never", "from": "some_id", "to": "some_id"}


class Transition(Record):
    """One step of a device from one of the `from` states to `to`."""

    model_config = ConfigDict(json_schema_extra={"examples": [_EXAMPLE]})

    act: Identifier | None = None
    when: Expression | None = None
    after: Identifier | None = None
    source: Identifiers = Field(alias="from")
    to: Identifier
    words: Annotated[str, AfterValidator(_act_words)] = ""
    takes: Duration = 0

    @model_validator(mode="after")
    def _one_trigger(self) -> "Transition":
        if self.act is not None and self.after is not None:
            raise Refusal("a transition is an act or a late reaction, not both", "keep 'act' or 'after'")
        if self.act is None and self.after is None and self.when is None:
            raise Refusal("a transition needs a trigger", "write 'act', 'when' or 'after'")
        if self.act is not None and not self.words:
            raise Refusal("an act without words", "add 'words: ...', as you would tell a person to do it")
        if self.act is None and (self.words or self.takes):
            raise Refusal("only an act has 'words' or 'takes'", "remove them, or add 'act'")
        return self


class Fault(Record):
    """One fault that a device of the kind may have, from the moment when it arrives.

    `outputs` are expressions over the kind's outputs and states, `inputs` over its inputs, each as it would be
    without the fault. `may_exclude`: on which ground the standard lets one leave the fault out of account.
    """

    model_config = ConfigDict(
        json_schema_extra={"examples": [{"text": "some text", "source": "some text", "blocks": ["some_id"]}]}
    )

    text: Text
    source: Text
    outputs: Mapping[Identifier, Expression] = {}
    inputs: Mapping[Identifier, Expression] = {}
    blocks: list[Block] = []
    may_exclude: str = ""
    clears: bool = True  # it may go away by itself and come back; False: it stays until somebody mends it

    @model_validator(mode="after")
    def _does_something(self) -> "Fault":
        if not self.outputs and not self.inputs and not self.blocks:
            raise Refusal("a fault that does nothing", "write 'outputs', 'inputs' or 'blocks'")
        return self


class Kind(Record):
    """A device kind: a state machine whose outputs depend on its state alone."""

    text: Text
    inputs: Mapping[Identifier, Literal["always", "never"] | None] = {}
    delays: list[Identifier] = []
    start: Identifier
    states: Mapping[Identifier, str]
    outputs: Mapping[Identifier, Expression]
    values: Mapping[Identifier, str] = {}
    demand: Expression | None = None
    braking: Expression | None = None  # states in which a unit brakes with its torque (stop category 1)
    momentary: bool = False  # falls back as soon as nobody holds it
    guard: bool = (
        False  # the contacts of a movable guard: in series with others' they may hide each other's faults
    )
    starts: bool = False  # who operates it means to start: hold-to-run, though letting it go demands a stop
    channels: list[Identifier] = []
    off_channels: list[Identifier] = []  # inputs each of which takes the torque away when it is false
    transitions: list[Transition]
    # inputs without a control wire (power, travel in a program): no wire faults
    no_wire: list[Identifier] = []
    faults: Mapping[Identifier, Fault] = {}

    def shown_in(self, state: str) -> dict[str, bool]:
        """Each output in a state, by name."""
        return {name: evaluate(term, state.__eq__) for name, term in self.outputs.items()}

    @property
    def locked_at_first(self) -> bool:
        """It demands nothing before its lock is free."""
        if self.demand is None or "locked" not in self.outputs:
            return False
        shown = map(self.shown_in, self.states)
        return not any(one["locked"] and evaluate(self.demand, one.__getitem__) for one in shown)
