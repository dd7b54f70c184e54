"""What one line of a register may hold: tests, counts, replacements, changes, and withdrawals of these."""

from datetime import UTC, date, datetime
from typing import Annotated, Final, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    PlainSerializer,
    TypeAdapter,
    model_validator,
)

from interlock.verdict import Verdict

__all__ = [
    "FORMAT",
    "VERSION",
    "BenchName",
    "Changed",
    "ContactorCount",
    "Content",
    "Entry",
    "FunctionTest",
    "Head",
    "LogCount",
    "LogFile",
    "Operations",
    "Person",
    "ProofTest",
    "Replaced",
    "Timing",
    "Withdrawn",
    "register_schema",
]

FORMAT: Final = "interlock register"
VERSION: Final = 1

Text = Annotated[str, Field(min_length=1)]
Count = Annotated[int, Field(ge=0)]
Sha = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Span = tuple[int, int | None]


def _zoned(value: datetime) -> datetime:
    if value.tzinfo is None:
        raise ValueError("a time needs its zone")
    return value.astimezone(UTC).replace(microsecond=0)


def _written(value: datetime) -> str:
    return value.strftime("%Y-%m-%dT%H:%M:%SZ")


Instant = Annotated[
    datetime, AfterValidator(_zoned), PlainSerializer(_written, return_type=str, when_used="json")
]


class Record(BaseModel):
    """No unknown key, no silent conversion, no change afterwards."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class BenchName(Record):
    """The bench that a line is about, and the fingerprint of its description on that day."""

    id: Text
    name: Text
    fingerprint: Sha


class Person(Record):
    """Who did it or says so, as far as given."""

    name: str = ""
    role: str = ""

    @model_validator(mode="after")
    def _somebody(self) -> Self:
        if not self.name and not self.role:
            raise ValueError("give a name or a role, or leave the person out")
        return self


class Timing(Record):
    """One judged effect: its latency lies in [lo, hi] nanoseconds (hi null: no upper bound is known)."""

    effect: Text
    subject: Text
    verdict: Verdict
    latency_ns: Span | None
    limit_ns: int | None


class FunctionTest(Record):
    """What the test says of one safety function."""

    verdict: Verdict
    timings: tuple[Timing, ...]


class LogFile(Record):
    """A log that was judged: its name, and the SHA-256 of its bytes."""

    name: Text
    sha256: Sha


class ContactorCount(Record):
    """Openings of one contactor seen in a log; `under_load` among them, `doubtful`: load not excluded."""

    openings: Count
    under_load: Count
    doubtful: Count
    whole: bool  # False: evidence is missing, there may have been more


class LogCount(Record):
    """What was counted in the logs of this one test; never extrapolated."""

    demands: dict[Text, Count]
    whole: bool
    contactors: dict[Text, ContactorCount]


class ProofTest(Record):
    """A proof test: the verdict of each function with its latencies, and the logs that it rests on."""

    kind: Literal["proof_test"] = "proof_test"
    date: date
    verdict: Verdict
    rest: Verdict  # worst finding that belongs to no function: the recording, motion that nothing explains
    functions: Annotated[dict[Text, FunctionTest], Field(min_length=1)]
    logs: Annotated[tuple[LogFile, ...], Field(min_length=1)]
    counts: LogCount | None = None
    software: Text


class Operations(Record):
    """Switching cycles of one device, counted from one day's reading to another's."""

    kind: Literal["operations"] = "operations"
    device: Text
    since: date
    until: date
    operations: Count  # without load: guard openings, resets, proof tests, stops by the control
    load_breaks: Count  # breaking the load, such as emergency stops under torque
    source: Text

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.since >= self.until:
            raise ValueError(f"counted from {self.since} until {self.until}: the second day must be later")
        return self


class Replaced(Record):
    """A part was replaced: its wear counts from this day anew."""

    kind: Literal["replaced"] = "replaced"
    device: Text
    date: date
    part: Text  # type and serial number of the new part, as far as known


class Changed(Record):
    """The bench was rewired or repaired: the proof test is due anew."""

    kind: Literal["changed"] = "changed"
    date: date
    what: Text
    devices: tuple[Text, ...] = ()


class Withdrawn(Record):
    """An earlier line no longer counts; it stays readable."""

    kind: Literal["withdrawn"] = "withdrawn"
    withdraws: Annotated[int, Field(ge=1)]
    reason: Text


Content = Annotated[ProofTest | Operations | Replaced | Changed | Withdrawn, Field(discriminator="kind")]


class Head(Record):
    """The first line."""

    format: Literal["interlock register"]
    version: Literal[1]
    entry: Literal[0]
    made: Instant
    sha256: Sha


class Entry(Record):
    """Every further line: its number, when it was written, what it holds, and the hash of the line before."""

    entry: Annotated[int, Field(ge=1)]
    made: Instant
    bench: BenchName
    content: Content
    by: Person | None = None
    note: str = ""
    previous: Sha
    sha256: Sha


def register_schema() -> dict[str, object]:
    """JSON Schema (2020-12) of one line: the head, or an entry."""
    lines: TypeAdapter[Head | Entry] = TypeAdapter(Head | Entry)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"{FORMAT} {VERSION}: one line",
        "description": "One JSON object a line (UTF-8, line feed), the head first. 'sha256' is the SHA-256 of the "
        "line's bytes up to, and without, ',\"sha256\"'; 'previous' is that of the line before.",
        **lines.json_schema(mode="serialization"),
    }
