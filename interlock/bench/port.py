"""The name of something at a device: its id, a dot, and the name of an input, an output or a fault."""

import re
from typing import Annotated, Final

from pydantic import AfterValidator, Field

from interlock.bench.refusal import Refusal, quoted

__all__ = ["Port"]

_PORT: Final = r"^[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*$"


def _port(text: str) -> str:
    if re.fullmatch(_PORT, text) is None:
        raise Refusal(
            f"{quoted(text)} is not of the form device.name", "write the device's id, a dot, a name"
        )
    return text


Port = Annotated[str, Field(json_schema_extra={"pattern": _PORT}), AfterValidator(_port)]
