"""A proof-test procedure as data: what to do at which bench, in which order, and what must be seen."""

from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal

from pydantic import Field

from interlock.bench.kind import Identifier, Record, Text

__all__ = ["Cost", "Head", "Inspection", "OfBench", "Procedure", "Step", "procedure_schema"]

_DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"
Purpose = Literal[
    "first_use",
    "after_rewiring",
    "periodic_proof_test",
    "before_each_use",
    "emergency_stop_test",
    "return_from_repair",
]
Fingerprint = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Port = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*$")]
Covered = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*:[a-z][a-z0-9_]*(@[a-z0-9_=,]+)?$")]
Texts = Annotated[list[Text], Field(min_length=1)]
Whole = Annotated[int, Field(ge=0)]


class Head(Record):
    """Which procedure this is, and what it is for."""

    title: Text
    purpose: Purpose
    when: Text
    source: Text  # who says so: a derivation, a standard, common practice


class OfBench(Record):
    """The bench that it was written for; with the fingerprint it holds for that description only."""

    id: Identifier
    name: Text
    fingerprint: Fingerprint | None = None


class Step(Record):
    """One act, and what must be seen; without a device it is a check with eyes or instrument."""

    act: Text
    device: Identifier | None = None
    does: list[Identifier] = Field(default_factory=list)  # acts of the device's kind, in order
    observe: Texts
    wait_s: Whole = 0  # watch this long, at least, before the next step
    note: list[Text] = Field(default_factory=list, description="values to write down")
    covers: list[Covered] = Field(
        default_factory=list
    )  # what it exercises, kind:function, of a stop perhaps with @situation
    reveals: list[Port] = Field(default_factory=list)  # faults that show here at the latest


class Cost(Record):
    """What the acts cost by the stated weights, and the least that any complete sequence costs."""

    cost: Whole
    lower_bound: Whole
    source: Text
    weights: Mapping[str, Whole] = Field(default_factory=dict)


class Inspection(Record):
    """A fault that no act of this procedure shows, and what to inspect instead."""

    fault: Port
    words: Text
    why: Text
    inspect: Text


class Procedure(Record):
    """A procedure, whole: nobody needs another paper to perform it but the bench's own instructions."""

    procedure: Head
    bench: OfBench
    cautions: Texts
    before: list[Text] = Field(default_factory=list)
    steps: list[Step] = Field(min_length=1)
    after: list[Text] = Field(default_factory=list)
    cost: Cost | None = None
    not_exercised: list[Covered] = Field(default_factory=list)
    unrevealed: list[Inspection] = Field(default_factory=list)


def procedure_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a procedure file."""
    return {
        "$schema": _DIALECT,
        **Procedure.model_json_schema(by_alias=True),
        "title": "proof-test procedure",
    }
