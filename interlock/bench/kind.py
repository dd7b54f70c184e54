"""What a device kind may say: its inputs, states, outputs and transitions, as plain declarations."""

import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Final, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic.config import JsonDict

from interlock.bench.expr import WORDS, Expr, parse
from interlock.bench.quantity import Quantity, example_of, parse_quantity, quantity_pattern, time_ns
from interlock.bench.refusal import Refusal, quoted

__all__ = [
    "Duration",
    "Expression",
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


class Record(BaseModel):
    """Strict, frozen, nothing unknown."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, arbitrary_types_allowed=True)


def written(parse: Callable[[str], T], result: type[T]) -> BeforeValidator:
    """Reads text by `parse`, which raises Refusal; what is a `result` already stays as it is."""

    def read(value: object) -> T:
        if isinstance(value, result):
            return value
        if not isinstance(value, str):
            raise Refusal(f"{quoted(value)} is no text", "write text; in quotes, if it looks like a number")
        return parse(value)

    return BeforeValidator(read, json_schema_input_type=str)


def quantity_of(dimension: str, *, positive: bool = False) -> BeforeValidator:
    """Reads text as a quantity of `dimension`; `positive`: of more than zero."""

    def read(value: object) -> Quantity:
        found = value if isinstance(value, Quantity) else parse_quantity(value, dimension)
        if positive and found.value <= 0:
            raise Refusal(f"{quoted(found)} is not above zero", f"write a {dimension} above zero")
        return found

    return BeforeValidator(read, json_schema_input_type=_text_of(dimension))


def _duration(least_ns: int, words: str) -> BeforeValidator:
    def read(value: object) -> int:
        found = time_ns(parse_quantity(value, "time"))
        if found < least_ns:
            raise Refusal(f"{quoted(value)} is not {words}", f"write a time {words}")
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
Identifiers = Annotated[
    list[Identifier], BeforeValidator(_one_or_many, json_schema_input_type=Identifier | list[Identifier])
]
"""One or several; a single one may be written without brackets."""
Text = Annotated[str, Field(min_length=1), AfterValidator(_visible)]
Expression = Annotated[Expr, written(parse, Expr), Field(examples=["never"])]
Duration = Annotated[int, _duration(0, "of zero or more")]
"""A time, written with its unit, held in integer nanoseconds."""
PositiveDuration = Annotated[int, _duration(1, "above zero")]
"""The same, where zero would make no sense."""


_EXAMPLE: Final[JsonDict] = {"when": "never", "from": "some_id", "to": "some_id"}


class Transition(Record):
    """One step of a device from one of the `from` states to `to`."""

    model_config = ConfigDict(json_schema_extra={"examples": [_EXAMPLE]})

    act: Identifier | None = None
    when: Expression | None = None
    after: Identifier | None = None
    source: Identifiers = Field(alias="from", min_length=1)
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
    channels: list[Identifier] = []
    off_channels: list[Identifier] = []  # inputs each of which takes the torque away when it is false
    transitions: list[Transition]
