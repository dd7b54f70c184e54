"""How the devices show themselves in a log, as data: messages, their freshness, states and values."""

import re
from collections.abc import Mapping
from typing import Annotated, Final

from pydantic import AfterValidator, Field

from interlock.bench.canopen import CanopenNode
from interlock.bench.kind import Identifier, PositiveDuration, Record, Text, written
from interlock.bench.observe import (
    Amount,
    Condition,
    SignalName,
    parse_amount,
    parse_condition,
    parse_signal,
)
from interlock.bench.port import Port
from interlock.bench.protection import Protection
from interlock.bench.refusal import Refusal, quoted
from interlock.bench.source_models import Source, StampDelay

__all__ = ["Message", "Shows"]

_DBC_NAME: Final = r"^[A-Za-z_][A-Za-z0-9_]*$"


def _dbc_name(text: str) -> str:
    if re.fullmatch(_DBC_NAME, text) is None:
        raise Refusal(f"{quoted(text)} is no name of a message or signal", "write it as in the DBC")
    return text


DbcName = Annotated[str, Field(json_schema_extra={"pattern": _DBC_NAME}), AfterValidator(_dbc_name)]
Shown = Annotated[Condition, written(parse_condition, Condition, "MESSAGE.SIGNAL is 1")]
ShownAmount = Annotated[Amount, written(parse_amount, Amount, "0.1 A")]
ShownValue = Annotated[SignalName, written(parse_signal, SignalName, "MESSAGE.SIGNAL")]


class Message(Record):
    """How often a message comes, and how one sees that its content is fresh."""

    period: PositiveDuration
    longest_gap: PositiveDuration
    on_change: bool = False  # frames come at a change of content too, between those of the period
    alive: DbcName | None = None
    alive_modulo: Annotated[int, Field(ge=2)] = 256
    # checksum by a profile of AUTOSAR E2E: a frame without a right one is no evidence
    e2e: Protection | None = None
    # signals that carry noise: never the same for longer than this
    moves: Mapping[DbcName, PositiveDuration] = {}
    # signals whose value is only known to plus or minus this much
    uncertain: Mapping[DbcName, ShownAmount] = {}
    source: Identifier | None = None  # the recorder that logs it; None: there is only one for CAN
    bus: Text | None = None  # the bus on which it comes, as the logger names it; None: any


class Shows(Record):
    """How each device shows itself in the log."""

    dbc: Annotated[Text, Field(examples=["bench.dbc"])] | None = None
    canopen: Mapping[Identifier, CanopenNode] = {}
    stamp_delay: StampDelay
    sources: Mapping[Identifier, Source] = {}
    messages: Mapping[DbcName, Message] = {}  # may be left out where every source holds signals
    states: Mapping[Port, Shown]
    values: Mapping[Port, ShownValue] = {}
