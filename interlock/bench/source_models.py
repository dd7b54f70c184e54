"""Where the logs of a run come from: its recorders, how their files are told apart, and how their clocks compare."""

import math
import re
from collections.abc import Mapping
from typing import Annotated, Final, Literal

from pydantic import AfterValidator, BeforeValidator, ConfigDict, Field, model_validator
from pydantic.config import JsonDict

from interlock.bench.kind import Duration, PositiveDuration, Record, Text, quantity_of, written
from interlock.bench.observe import Amount, Condition, parse_amount, parse_condition, parse_level
from interlock.bench.quantity import Quantity, parse_quantity, quantity_pattern, same_unit, time_ns
from interlock.bench.refusal import Refusal, quoted

__all__ = ["Bounds", "Channel", "CommonEdge", "Parts", "Source", "StampDelay", "StatedClock", "Table"]

_SIGNAL: Final = r"^[A-Za-z_][A-Za-z0-9_]*$"
_MOST_DRIFT_PPM: Final = 10_000


def _signal_name(text: str) -> str:
    if re.fullmatch(_SIGNAL, text) is None:
        raise Refusal(f"{quoted(text)} is no name of a signal", "write letters, digits and _")
    return text


def _column(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int | str) or value == "":
        raise Refusal(f"{quoted(value)} names no column", "write its heading, or its number from 1")
    if isinstance(value, int) and value < 1:
        raise Refusal(f"there is no column {value}", "count the columns from 1")
    return value


def _drift(value: Quantity) -> Quantity:
    if not 0 <= value.value <= _MOST_DRIFT_PPM:
        raise Refusal(
            f"{quoted(value)} is no drift of a clock", "write how far off at most, from 0 ppm to 1 %"
        )
    return value


def _rate(value: Quantity) -> Quantity:
    if value.value > 10**9:
        raise Refusal(f"{quoted(value)} is more than one sample a nanosecond", "write 1 GHz or less")
    return value


def _finite(value: float) -> float:
    if not math.isfinite(value) or value == 0:
        raise Refusal(f"{quoted(value)} makes every value the same, or none", "write a number other than 0")
    return value


def _signed(value: object) -> int:
    return time_ns(parse_quantity(value, "time"))


_ColumnText = Annotated[str | int, Field(examples=["CH1"])]
Column = Annotated[str | int, BeforeValidator(_column, json_schema_input_type=_ColumnText)]
_TimeText = Annotated[str, Field(pattern=quantity_pattern("time"), examples=["-20 ms"])]
SignedDuration = Annotated[int, BeforeValidator(_signed, json_schema_input_type=_TimeText)]
Drift = Annotated[Quantity, quantity_of("ratio"), AfterValidator(_drift)]
Rate = Annotated[Quantity, quantity_of("frequency", positive=True), AfterValidator(_rate)]
Level = Annotated[Amount, written(parse_level, Amount, "12 V")]
Tolerance = Annotated[Amount, written(parse_amount, Amount, "0.1 A")]
Edge = Annotated[Condition, written(parse_condition, Condition, "MESSAGE.SIGNAL is 1")]
SignalKey = Annotated[str, Field(json_schema_extra={"pattern": _SIGNAL}), AfterValidator(_signal_name)]


class StampDelay(Record):
    """A frame is stamped this long after its content was sampled."""

    least: Duration
    most: Duration


class Bounds(Record):
    """A time known to lie between two ends, which may be negative."""

    least: SignedDuration
    most: SignedDuration

    @model_validator(mode="after")
    def _in_order(self) -> "Bounds":
        if self.least > self.most:
            raise Refusal("'least' is more than 'most'", "swap the two")
        return self


class Channel(Record):
    """A signal of a table, a capture or a decoded file: where it stands there, and what its values mean.

    value = factor · what the file holds + offset. With levels the signal is 1 from `high_from` up, 0 from `low_to`
    down, and not known between them.
    """

    model_config = ConfigDict(json_schema_extra={"examples": [{"from": "CH1"}]})

    column: Column = Field(alias="from")
    unit: str = ""
    factor: Annotated[float, AfterValidator(_finite)] = 1.0
    offset: Annotated[float, Field(allow_inf_nan=False)] = 0.0
    high_from: Level | None = None
    low_to: Level | None = None
    inverted: bool = False
    shortest: PositiveDuration | None = None  # a level that lasts shorter counts as not known
    uncertain: Tolerance | None = None  # the value is only known to plus or minus this much
    moves: PositiveDuration | None = None  # carries noise: never the same for longer than this

    @property
    def scaled(self) -> bool:
        """Whether the file holds other numbers than the signal has, perhaps in another unit."""
        return self.factor != 1 or self.offset != 0

    @property
    def shown_unit(self) -> str:
        """The unit of the signal that comes of it; none if levels make it a logic signal."""
        return "" if self.high_from is not None else self.unit

    @model_validator(mode="after")
    def _fits(self) -> "Channel":
        high, low = self.high_from, self.low_to
        if (high is None) != (low is None):
            raise Refusal("one level of two is given", "write both 'high_from' and 'low_to'")
        if high is not None and low is not None:
            self._levels_fit(high, low)
        elif self.uncertain is not None and not same_unit(self.uncertain.unit, self.unit):
            why = f"'uncertain' is in {quoted(self.uncertain.unit)}, and the signal in {quoted(self.unit)}"
            raise Refusal(why, "write both in one unit")
        if self.inverted and self.unit and high is None:
            raise Refusal("only a logic signal can be inverted", "write a negative 'factor', or give levels")
        return self

    def _levels_fit(self, high: Amount, low: Amount) -> None:
        if not low.value < high.value:
            raise Refusal("'low_to' is not below 'high_from'", "write the lower level as 'low_to'")
        for level in (high, low):
            if not same_unit(level.unit, self.unit):
                why = f"a level is in {quoted(level.unit)}, and the channel in {quoted(self.unit)}"
                raise Refusal(why, "write 'unit' and both levels alike")
        if self.uncertain is not None:
            raise Refusal("a signal by levels has no 'uncertain'", "move the levels apart by as much instead")


def _short(value: object) -> object:
    """A channel of which only the column is said."""
    return {"from": value} if isinstance(value, str | int) and not isinstance(value, bool) else value


_Short = BeforeValidator(_short, json_schema_input_type=_ColumnText | Channel)


class Table(Record):
    """How a table of samples is laid out; lines and columns are counted from 1."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"time": "Time"}]})

    time: Column | None = None  # the column with the time of each row
    time_unit: Literal["s", "ms", "us", "ns"] = "s"
    sample_rate: Rate | None = None  # else the rate at which the rows were sampled
    changes_only: bool = False  # a row wherever something changed: between two rows nothing did
    separator: Literal["comma", "semicolon", "tab"] = "comma"
    decimal: Literal["point", "comma"] = "point"
    headings: Annotated[int, Field(ge=0)] = 1  # line with the headings; 0: there is none
    units: Annotated[int, Field(ge=1)] | None = None  # line with the units, which are compared
    first_row: Annotated[int, Field(ge=1)] | None = None  # line with the first samples; None: the next one

    @property
    def first_line(self) -> int:
        """The line with the first samples."""
        return max(self.headings, self.units or 0) + 1 if self.first_row is None else self.first_row

    @model_validator(mode="after")
    def _fits(self) -> "Table":
        if (self.time is None) == (self.sample_rate is None):
            raise Refusal(
                "it needs one way to tell the time of a row", "write either 'time' or 'sample_rate'"
            )
        if self.changes_only and self.time is None:
            raise Refusal("rows at changes only need a time", "write 'time', or remove 'changes_only'")
        if self.separator == self.decimal == "comma":
            raise Refusal(
                "a comma cannot both separate columns and be the decimal sign", "look into the file"
            )
        if self.units is not None and self.units <= self.headings:
            raise Refusal("the line with the units is not below the headings", "count the lines from 1")
        if self.first_line <= max(self.headings, self.units or 0):
            raise Refusal("'first_row' is not below headings and units", "count the lines from 1")
        return self


class CommonEdge(Record):
    """Two conditions that change at the same event; the one `there` changes this much later than the one `here`."""

    here: Edge
    there: Edge
    later: Bounds = Bounds.model_construct(least=0, most=0)


_BY_OFFSET: Final[JsonDict] = {"drift": "50 ppm", "offset": {"least": "0 ms", "most": "20 ms"}}


class StatedClock(Record):
    """How the clock of a source compares with that of the source that has no entry `clock`."""

    model_config = ConfigDict(json_schema_extra={"examples": [_BY_OFFSET]})

    drift: Drift  # the two run apart by no more than this
    steady: bool = False  # the drift stays the same during the record
    offset: Bounds | None = None  # what must be added to its stamps
    edges: list[CommonEdge] = Field(default_factory=list)
    missed: Annotated[int, Field(ge=0)] = 0  # so many edges may be in one record only

    @model_validator(mode="after")
    def _fits(self) -> "StatedClock":
        if self.offset is None and not self.edges:
            raise Refusal("nothing says how the two clocks compare", "write 'offset', 'edges' or both")
        if not self.edges and (self.missed or self.steady):
            raise Refusal("'missed' and 'steady' belong to 'edges'", "remove them, or write 'edges'")
        return self


class Parts(Record):
    """How the stamps of one file of a source continue those of the file before it, if they bear no date."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"stamps": "go_on"}]})

    stamps: Literal["go_on", "begin_anew"]
    pause: Bounds | None = None  # from the last stamp of a part to the first of the next, if they begin anew

    @model_validator(mode="after")
    def _fits(self) -> "Parts":
        if (self.stamps == "begin_anew") != (self.pause is not None):
            why = "'pause' belongs to stamps that begin anew, and they need it"
            raise Refusal(why, "write 'pause: {least: 0 ms, most: 20 ms}', or 'stamps: go_on' without it")
        if self.pause is not None and self.pause.least < 0:
            raise Refusal("a pause is not negative", "write 0 ms or more")
        return self


class Source(Record):
    """One recorder: what its files hold, how one is told from those of the others, and by which clock it stamps."""

    kind: Literal["can", "table", "vcd", "sr", "mf4"]
    files: Text | None = None  # pattern of their names, such as scope_*.csv
    bus: Text | None = None  # for CAN: the bus of all its messages, as the logger names it
    table: Table | None = None
    signals: Mapping[SignalKey, Annotated[Channel, _Short]] = {}
    period: PositiveDuration | None = None
    longest_gap: PositiveDuration | None = None
    stamp_delay: StampDelay | None = None  # None: as stated for the whole bench
    parts: Parts | None = None
    clock: StatedClock | None = None

    @property
    def sampled(self) -> bool:
        """Whether its files hold signals, and not frames."""
        return self.kind != "can"

    @property
    def changes_only(self) -> bool:
        """Whether its record holds changes, and that there was none between them."""
        return self.kind in {"vcd", "sr"} or (self.table is not None and self.table.changes_only)

    @model_validator(mode="after")
    def _fits(self) -> "Source":
        if self.sampled != bool(self.signals):
            if self.sampled:
                raise Refusal(f"a source of kind {self.kind} needs its signals", "write 'signals'")
            raise Refusal("the signals of CAN frames are those of the DBC", "remove 'signals'")
        if (self.kind == "table") != (self.table is not None):
            raise Refusal("'table' belongs to kind table, and it needs it", "write 'kind: table' and 'table'")
        if self.sampled and self.bus is not None:
            raise Refusal("'bus' belongs to kind can", "remove it")
        self._gaps_fit()
        return self

    def _gaps_fit(self) -> None:
        if self.changes_only and any(one.moves is not None for one in self.signals.values()):
            raise Refusal("'moves' has no meaning where only changes are recorded", "remove it")
        timed = self.table is not None and self.table.time is not None and not self.changes_only
        stamped = self.kind == "mf4" or timed
        given = (self.period is not None, self.longest_gap is not None)
        if stamped and not all(given):
            why = "without 'period' and 'longest_gap' nobody sees that rows are missing"
            raise Refusal(why, "write both")
        if any(given) and not stamped:
            instead = "write them at each message" if self.kind == "can" else "remove them"
            raise Refusal("'period' and 'longest_gap' belong to rows that bear a time each", instead)
        if self.period is not None and self.longest_gap is not None and self.longest_gap < self.period:
            raise Refusal("'longest_gap' is shorter than 'period'", "write a longer time")
