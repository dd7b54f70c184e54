"""What the bench must do, whatever its wiring, as data: safety functions, their effects, resets and modes."""

from collections.abc import Mapping, Sequence
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from interlock.bench.kind import (
    Duration,
    Expression,
    Identifier,
    Identifiers,
    PositiveDuration,
    Record,
    Text,
    quantity_of,
)
from interlock.bench.quantity import Quantity
from interlock.bench.refusal import Refusal, quoted

__all__ = ["Decision", "Effects", "Function", "Mode", "Modes", "Repeats", "Required", "Standstill"]


def _category(value: object) -> object:
    if type(value) is not int or value not in {0, 1, 2}:
        raise Refusal(f"{quoted(value)} is no stop category", "write 0, 1 or 2 (IEC 60204-1, 9.2)")
    return value


def _share(value: object) -> object:
    if type(value) is not float or not 0.5 <= value <= 0.999:
        raise Refusal(f"{quoted(value)} is no share", "write 0.5 to 0.999, such as 0.95 for 95 %")
    return value


Share = Annotated[
    float,
    Field(json_schema_extra={"minimum": 0.5, "maximum": 0.999, "examples": [0.95]}),
    BeforeValidator(_share),
]
StopCategory = Annotated[Literal[0, 1, 2], BeforeValidator(_category)]

Speed = Annotated[Quantity, quantity_of("speed", positive=True)]
Voltage = Annotated[Quantity, quantity_of("voltage", positive=True)]


class TorqueOff(Record):
    """Each unit is without torque in time, and stays so until a lawful restart."""

    of: Identifiers
    within: PositiveDuration
    limits: Mapping[Identifier, PositiveDuration] = {}  # by unit, where it is not `within`
    source: Text


class ReferencesZero(Record):
    """The references are zero in time, and stay so until set anew."""

    of: Identifier
    within: PositiveDuration
    source: Text


class Standstill(Record):
    """The shaft's speed is below a bound in time, and stays so."""

    of: Identifier
    below: Speed
    within: PositiveDuration
    source: Text


class ContactorOpen(Record):
    """The main contactor is open in time.

    `in_series`: further contactors through which its supply goes: each opens, and one is enough to take the supply.
    """

    of: Identifier
    in_series: list[Identifier] = Field(default_factory=list)
    within: PositiveDuration
    source: Text


class BusDischarged(Record):
    """The bus voltage is at or below a bound in time, counted from the contactor's opening or the demand."""

    of: Identifier
    at_most: Voltage
    within: PositiveDuration
    after: Literal["contactor_open", "demand"]
    source: Text


EffectName = Literal["torque_off", "references_zero", "standstill", "contactor_open", "bus_discharged"]


class Effects(Record):
    """What stops must do, each said once; functions name those that they need."""

    torque_off: TorqueOff
    references_zero: ReferencesZero | None = None
    standstill: Standstill | None = None
    contactor_open: ContactorOpen | None = None
    bus_discharged: BusDischarged | None = None


class Channels(Record):
    """Both channels of the demanding device change together, or the bench locks out."""

    within: PositiveDuration
    source: Text


class Supply(Record):
    """While this demand is latched supply-on is dead, and its release does not bring the supply back."""

    of: Identifier
    on_by: Identifier
    source: Text


class Reset(Record):
    """After a stop the bench stays off until this button was pressed and released, the demand being gone."""

    by: Identifier
    acts_on: Literal["release"]
    # the shortest time that a person holds this button, or supply-on (common practice, no source)
    shortest_press: PositiveDuration = 50_000_000
    source: Text


class Restart(Record):
    """After the reset no unit makes torque until a person has started it, which takes a person this long."""

    no_sooner_than: Duration
    single_fault_tolerant: bool = False  # True: the check fails if a single fault starts a unit unasked
    source: Text


class Repeats(Record):
    """By which bound, stated before the data are seen, the stops of a log must speak for those that were not made."""

    basis: Literal["largest", "normal"]  # the largest of enough stops, or mean + k s of normal ones
    share: Share = 0.95  # of all such stops that must be within their limit
    confidence: Share = 0.95
    source: Text


class Decision(Record):
    """How far within its limit a measured time must be, stated before the data are seen (JCGM 106:2012).

    It can make a verdict stricter, never milder. `measuring_chain`: expanded uncertainty (95 %) of each time by what
    no other entry holds, such as the calibration of the logger's clock.
    """

    rule: Literal["simple acceptance", "guard band"]
    measuring_chain: Duration = 0
    source: Text


CategoryPart = Literal["braking", "power_removed"]


class Function(Record):
    """A safety function: what demands it, what must happen then, and who says so."""

    title: Text
    demand: Identifier
    stop_category: StopCategory
    effects: list[EffectName] = Field(min_length=1)
    channels: Channels | None = None
    supply: Supply | None = None
    in_modes: Identifiers | None = None  # the modes in which it is required; None: all
    units: Identifiers | None = None  # the units whose torque it takes away; None: all
    limits: Mapping[
        Identifier, PositiveDuration
    ] = {}  # torque off, by unit, where it is not the common limit
    reset_by: Identifier | None = None  # its own reset button; None: that of the bench
    without_reset: Text | None = None  # why its end permits a start, but starts nothing, without any reset
    single_fault_tolerant: bool = False  # True: the check fails if a single fault loses the function
    accumulation_tolerant: bool = False  # True: it also fails if faults that add up unnoticed lose it
    single_fault_keeps: Sequence[CategoryPart] = ()  # the check fails if a single fault breaks one of these
    source: Text


class Mode(Record):
    """A way of operating the bench, selected while an expression over the selector's outputs holds."""

    title: Text
    selected: Expression
    units: Identifiers | None = None  # the units that may make torque in it; None: all


class Modes(Record):
    """The modes, and what changing between them must do. While none is selected every function is required."""

    by: Identifier
    change: Literal["stops", "starts_nothing"] = "stops"
    each: Annotated[Mapping[Identifier, Mode], Field(min_length=2)]
    single_fault_tolerant: bool = (
        False  # True: the check fails if a single fault lets a unit run where it rests
    )
    source: Text


class Required(Record):
    """What the bench must do, whatever its wiring."""

    reset: Reset
    restart: Restart
    modes: Modes | None = None
    effects: Effects
    functions: Mapping[Identifier, Function] = Field(min_length=1)
    repeats: Repeats | None = None  # None: each stop is judged for itself only
    decision: Decision | None = None  # None: the whole interval within the limit, and no more

    def units_of(self, function: str) -> list[str]:
        """The units whose torque the function takes away."""
        own = self.functions[function].units
        return self.effects.torque_off.of if own is None else own

    def idle_in(self, mode: str) -> list[str]:
        """The units that must make no torque in the mode."""
        own = None if self.modes is None else self.modes.each[mode].units
        return [] if own is None else [unit for unit in self.effects.torque_off.of if unit not in own]

    def torque_limit_ns(self, function: str | None, unit: str) -> int:
        """In which time the torque of the unit must be gone; without a function, by the common limits."""
        common = self.effects.torque_off
        shared = common.limits.get(unit, common.within)
        return shared if function is None else self.functions[function].limits.get(unit, shared)
