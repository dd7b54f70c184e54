"""The bench description as data: what is built, and the other sections of its file."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from interlock.bench.kind import Duration, Expression, Identifier, Kind, Record, Text, quantity_of
from interlock.bench.port import Port
from interlock.bench.quantity import Quantity
from interlock.bench.required_models import Required
from interlock.bench.series_models import SeriesLayout
from interlock.bench.shows_models import Shows

__all__ = ["Bench", "Cable", "Device", "Exclusion", "Identity", "Planning", "Ratings"]

Speed = Annotated[Quantity, quantity_of("speed", positive=True)]
Voltage = Annotated[Quantity, quantity_of("voltage", positive=True)]
Inertia = Annotated[Quantity, quantity_of("inertia", positive=True)]
Temperature = Annotated[Quantity, quantity_of("temperature")]


class Ratings(Record):
    """Name-plate figures of the bench."""

    bus_voltage: Voltage
    max_speed: Speed
    inertia: Inertia | None = None
    temperatures: Mapping[Port, Temperature] = {}  # the highest permitted, by value that shows it


class Identity(Record):
    """Which bench this is."""

    id: Identifier
    name: Text
    place: Text
    ratings: Ratings


class Device(Record):
    """One device as built: its kind, what people call it, its delays (upper bounds by data sheet)."""

    kind: Identifier
    name: Text
    type: str = ""  # maker's type designation, for the report
    delays: Mapping[Identifier, Duration] = {}
    opened: Literal["hourly", "rarely"] | None = None  # a guard: at least once an hour or not (ISO/TR 24119)
    series: SeriesLayout | None = None  # a device at whose inputs guards are in series: how they are laid out


class Exclusion(Record):
    """A fault that the engineer leaves out of account, and why; every result prints it."""

    fault: Port
    reason: Text
    source: Text


class Grounds(Record):
    """Why the shorts within a cable are left out of account; every result prints it."""

    reason: Text
    source: Text


class Cable(Record):
    """Control lines that run side by side: any two of them may come into contact.

    A line is named by the input that it reaches, or by the contact (output) that it leaves.
    """

    name: Text
    lines: Annotated[list[Port], Field(min_length=2)]
    excluded: Grounds | None = None


class Planning(Record):
    """What acts cost in this bench's proof test, in a unit of its own: wear, time, trouble."""

    costs: Annotated[Mapping[str, Annotated[int, Field(ge=1)]], Field(min_length=1)]
    source: Text


class Bench(Record):
    """A bench description, whole and consistent in itself (see `interlock.bench.load`)."""

    bench: Identity
    kinds: Mapping[Identifier, Kind] = {}
    devices: Mapping[Identifier, Device] = Field(min_length=1)
    wiring: Mapping[Port, Expression]
    cables: Mapping[Identifier, Cable] = {}
    required: Required
    exclusions: list[Exclusion] = Field(default_factory=list)
    shows: Shows | None = None
    plan: Planning | None = None
    rating: Mapping[str, Any] | None = None
