"""A CANopen node as the bench file names it: number, EDS, and what the EDS does not say."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final

from pydantic import AfterValidator, BeforeValidator, Field

from interlock.bench.kind import Record, Text, written
from interlock.bench.observe import Amount, parse_amount
from interlock.bench.refusal import Refusal, quoted

__all__ = ["CanopenNode", "ObjectName", "Pdo", "parse_identifier", "parse_object"]

_PDO: Final = r"^[rt]pdo[1-9][0-9]{0,2}$"
_ID: Final = r"^[0-9A-Fa-f]{1,3}h$"
_MOST_PDOS: Final = 512
_EXTENDED: Final = 0x7FF


@dataclass(frozen=True, slots=True)
class ObjectName:
    """An entry of the object dictionary."""

    index: int
    sub: int = 0

    def __str__(self) -> str:
        return f"{self.index:04X}h sub {self.sub}" if self.sub else f"{self.index:04X}h"


def parse_object(text: str) -> ObjectName:
    """Read `6041h` or `3000h sub 2`; raises Refusal."""
    match = re.fullmatch(r"([0-9A-Fa-f]{4})h(?:\s+sub\s+([0-9]{1,3}))?", text.strip())
    if match is None or int(match[2] or 0) > 255:
        raise Refusal(
            f"{quoted(text)} is no object of a CANopen node", "write it such as '6041h' or '3000h sub 2'"
        )
    return ObjectName(int(match[1], 16), int(match[2] or 0))


def parse_identifier(text: str) -> int:
    """Read `185h`, the identifier of a message of 11 bits; raises Refusal."""
    match = re.fullmatch(r"([0-9A-Fa-f]{1,3})h", text.strip())
    if match is None or not 1 <= int(match[1], 16) <= _EXTENDED:
        raise Refusal(
            f"{quoted(text)} is no identifier of 11 bits", "write it in hexadecimal, such as '185h'"
        )
    return int(match[1], 16)


def _hex_only(value: object) -> int:
    """A plain number is refused: nobody knows whether 185 is meant in hexadecimal."""
    if not isinstance(value, str):
        raise Refusal(f"{quoted(value)} is no text", "write text such as '185h'")
    return parse_identifier(value)


def _pdo_name(text: str) -> str:
    if re.fullmatch(_PDO, text) is None or int(text[4:]) > _MOST_PDOS:
        raise Refusal(
            f"{quoted(text)} is no process data object", "write 'tpdo1' to 'tpdo512' or 'rpdo1' to 'rpdo512'"
        )
    return text


_Pdo = Annotated[
    str, Field(json_schema_extra={"pattern": _PDO, "examples": ["tpdo1"]}), AfterValidator(_pdo_name)
]
_Object = Annotated[ObjectName, written(parse_object, ObjectName, "6041h")]
_HEX = Annotated[str, Field(pattern=_ID, examples=["185h"])]
_Identifier = Annotated[int, BeforeValidator(_hex_only, json_schema_input_type=_HEX)]
_Count = Annotated[Amount, written(parse_amount, Amount, "0.1 1/min")]
_SignalName = Annotated[str, Field(pattern=r"^[A-Za-z_][A-Za-z0-9_]*$")]


class Pdo(Record):
    """A process data object as it is set up at the bench, where that is not what the EDS says."""

    id: _Identifier | None = None
    maps: Annotated[list[_Object], Field(min_length=1)] | None = None


class CanopenNode(Record):
    """One node; its messages bear its name: `NAME_tpdo1`, `NAME_heartbeat`, `NAME_emergency`."""

    node: Annotated[int, Field(ge=1, le=127)]
    eds: Annotated[Text, Field(examples=["drive.eds"])]
    pdos: Mapping[_Pdo, Pdo] = {}
    # what one count of a signal is worth, and its unit
    counts: Mapping[_SignalName, _Count] = {}
