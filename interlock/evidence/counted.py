"""What was counted, as the rating's document says it: by the register over time, and in the log of this one test."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from interlock.errors import RegisterError
from interlock.rating.counted import CountedUse
from interlock.register.book import Register, read_register
from interlock.register.file import register_bytes
from interlock.register.shown import object_schema
from interlock.register.uses import uses
from interlock.replay.counts import LogCounts

__all__ = ["COUNTED_SCHEMA", "RegisterInput", "counted", "counted_document", "read_uses"]


@dataclass(frozen=True)
class RegisterInput:
    """A register as it was read once: its chain verified, its bytes hashed, and what it holds of one bench."""

    path: Path
    register: Register
    file_sha256: str
    uses: Mapping[str, CountedUse]

    def as_input(self) -> dict[str, str]:
        """As an input of a report."""
        return {"path": str(self.path), "sha256": self.file_sha256, "role": "register of past tests"}


def read_uses(path: Path, bench_id: str) -> RegisterInput:
    """RegisterError if the chain does not hold or the file cannot be read."""
    data = register_bytes(path)
    register = read_register(str(path), data)
    if not any(register.counting(bench_id)):
        known = ", ".join(sorted({one.bench.id for one in register.entries})) or "none"
        raise RegisterError(f"{path}: it holds nothing of bench '{bench_id}'; benches in it: {known}")
    return RegisterInput(path, register, hashlib.sha256(data).hexdigest(), uses(register, bench_id))


def counted_document(found: RegisterInput | None, log: LogCounts | None) -> dict[str, Any]:
    """The entries `register` and `counted_in_log` of the rating's document; None where there is no such input."""
    return {
        "register": None
        if found is None
        else {
            "file": found.path.name,
            "count": len(found.register.entries),
            "sha256": found.register.sha256,
            "uses": [_use(one) for one in found.uses.values()],
        },
        "counted_in_log": None if log is None else log.as_json(),
    }


def counted(document: Mapping[str, Any]) -> list[str]:
    """The same two entries of a rating's document in words, a line each; documents without them have nothing to say."""
    lines, past, log = list[str](), document.get("register"), document.get("counted_in_log")
    if past is not None:
        lines.append(
            f"register {past['file']}: {past['count']} line(s) below its head, hash of the last line {past['sha256']}"
        )
        lines += [_use_in_words(one) for one in past["uses"]] or [
            "it holds no count and no replacement of this bench"
        ]
    if log is not None:
        demands = ", ".join(f"{name} {count}" for name, count in log["demands"].items())
        more = "" if log["whole"] else "; evidence is missing, there may have been more"
        lines.append(f"counted in this log alone, not extrapolated: demands: {demands or 'none'}{more}")
        lines += [
            f"counted in this log alone, not extrapolated: {name}: {_openings_in_words(one)}"
            for name, one in log["contactors"].items()
        ]
    return lines


def _use_in_words(one: Mapping[str, Any]) -> str:
    new = "" if one["installed"] is None else f", replaced on {one['installed']}"
    if one["since"] is None:
        return f"counted on {one['device']}: nothing{new} ({one['source']})"
    return (
        f"counted on {one['device']}: {one['operations']} operations without load and {one['load_breaks']} load "
        f"breaks in {one['days']} days from {one['since']} to {one['until']}{new} ({one['source']})"
    )


def _openings_in_words(one: Mapping[str, Any]) -> str:
    more = "" if one["whole"] else "; evidence is missing, there may have been more"
    doubt = f", perhaps {one['doubtful']} more of them" if one["doubtful"] else ""
    return f"{one['openings']} opening(s), {one['under_load']} of them under load{doubt}{more}"


def _use(one: CountedUse) -> dict[str, Any]:
    light, heavy = one.tally("operations"), one.tally("load_breaks")
    return {
        "device": one.device,
        "source": one.source,
        "days": one.days,
        "operations": 0 if light is None else light.count,
        "load_breaks": 0 if heavy is None else heavy.count,
        "since": None if light is None else str(light.since),
        "until": None if light is None else str(light.until),
        "installed": None if one.installed is None else str(one.installed),
    }


_COUNT: Final = {"type": "integer", "minimum": 0}
_TEXT: Final = {"type": "string", "minLength": 1}
_DAY: Final = {"type": ["string", "null"], "format": "date"}
_USE: Final = object_schema(
    {
        "device": _TEXT,
        "source": _TEXT,
        "days": _COUNT,
        "operations": _COUNT,
        "load_breaks": _COUNT,
        "since": _DAY,
        "until": _DAY,
        "installed": _DAY,
    }
)
_REGISTER: Final = object_schema(
    {
        "file": _TEXT,
        "count": _COUNT,
        "sha256": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
        "uses": {"type": "array", "items": _USE},
    }
)
_CONTACTOR: Final = object_schema(
    {"openings": _COUNT, "under_load": _COUNT, "doubtful": _COUNT, "whole": {"type": "boolean"}}
)
_LOG: Final = object_schema(
    {
        "demands": {"type": "object", "additionalProperties": _COUNT},
        "whole": {"type": "boolean"},
        "contactors": {"type": "object", "additionalProperties": _CONTACTOR},
    }
)
COUNTED_SCHEMA: Final = {
    "register": {"anyOf": [_REGISTER, {"type": "null"}]},
    "counted_in_log": {"anyOf": [_LOG, {"type": "null"}]},
}
"""JSON Schema of the two entries."""
