"""End-to-end protection of a message, as the bench file names it: counter and checksum of an AUTOSAR E2E profile.

Figures of the profiles from the AUTOSAR specification "E2E Protocol Specification" (PRS_E2EProtocol, open to all),
chapters on profiles 1, 2, 4, 5, 6, 11 and 22.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Literal

from pydantic import BeforeValidator, Field

from interlock.bench.kind import Record
from interlock.bench.refusal import Refusal, quoted

__all__ = ["PROFILES", "IdMode", "Profile", "ProfileName", "Protection"]

ProfileName = Literal["P01", "P02", "P04", "P05", "P06", "P11", "P22"]
IdMode = Literal["all16Bit", "alternating8Bit", "lower8Bit", "lower12Bit"]
"""How a data id of profile 1 or 11 goes into the checksum; the words are those of the AUTOSAR system template."""

_DBC_NAME: Final = r"^[A-Za-z_][A-Za-z0-9_]*$"


@dataclass(frozen=True, slots=True)
class Profile:
    """What a profile fixes."""

    checksum_bits: int
    big_endian: bool  # byte order of the checksum, where it has more than one byte
    modulo: int  # the counter goes from 0 to this, less one
    id_bits: int  # of the data id; of each one where there is a list of them
    listed: bool = False  # one data id for each value of the counter
    modes: tuple[IdMode, ...] = ()


PROFILES: Final[Mapping[ProfileName, Profile]] = {
    "P01": Profile(8, False, 15, 16, modes=("all16Bit", "alternating8Bit", "lower8Bit", "lower12Bit")),
    "P02": Profile(8, False, 16, 8, listed=True),
    "P04": Profile(32, True, 65536, 32),
    "P05": Profile(16, False, 256, 16),
    "P06": Profile(16, True, 256, 16),
    "P11": Profile(8, False, 15, 16, modes=("all16Bit", "lower12Bit")),
    "P22": Profile(8, False, 16, 8, listed=True),
}


def _data_id(value: object) -> int:
    if type(value) is int:
        return value
    match = re.fullmatch(r"([0-9A-Fa-f]{1,8})h", value.strip()) if isinstance(value, str) else None
    if match is None:
        raise Refusal(f"{quoted(value)} is no data id", "write a number, in decimal or such as '1A2Bh'")
    return int(match[1], 16)


_HEX: Final = r"^[0-9A-Fa-f]{1,8}h$"
_Written = Annotated[int, Field(ge=0)] | Annotated[str, Field(pattern=_HEX)]
DataId = Annotated[int, Field(ge=0, le=2**32 - 1), BeforeValidator(_data_id, json_schema_input_type=_Written)]
_Name = Annotated[str, Field(pattern=_DBC_NAME)]


class Protection(Record):
    """The profile, the signal that holds the checksum, and the data ids; the counter is the message's `alive`."""

    profile: ProfileName
    checksum: _Name
    data_id: DataId | None = None
    data_ids: Annotated[list[DataId], Field(min_length=16, max_length=16)] | None = None
    id_mode: IdMode = "all16Bit"
    id_nibble: _Name | None = (
        None  # with lower12Bit: the signal that holds the upper four bits of the data id
    )
