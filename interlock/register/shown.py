"""The register as one JSON document, as its verbs print it; the schema of document and line lies beside this file."""

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.cautions import CAUTIONS
from interlock.register.book import Register
from interlock.register.entries import Entry, register_schema
from interlock.verdict import Verdict

__all__ = ["SCHEMA_FILE", "Held", "document", "holds", "object_schema", "shown_schema"]

SCHEMA_FILE = Path(__file__).with_name("register.schema.json")

NOT_SHOWN = (
    "A chain of hashes cannot show whether lines were cut off at its end, or written anew from some line on. Note "
    "the hash of the last line in the signed report, and compare with --noted."
)

Held = tuple[Verdict, tuple[str, ...]]


def holds(read: Register, noted: Sequence[str] = ()) -> Held:
    """Whether a chain that was read, and so holds, still contains each hash that was noted elsewhere."""
    said = [f"The chain of {len(read.entries)} entries holds."]
    verdict = Verdict.PASS
    for one in noted:
        number = read.number_of(one)
        if number is None:
            verdict = Verdict.FAIL
            said.append(
                f"The hash {one} is not in it: lines that were there when it was noted were cut off or written anew."
            )
        else:
            later = len(read.entries) - number
            said.append(f"Up to entry {number} it is as noted with {one}; {later} entries came later.")
    return verdict, (*said, *([] if noted else [NOT_SHOWN]))


def document(
    path: str, register: Register | None, entries: Iterable[Entry], held: Held | None = None
) -> dict[str, Any]:
    """What a verb of the register prints; `register` None: it is broken."""
    return {
        "schema": "interlock register 1",
        "software": __version__,
        "register": path,
        "count": None if register is None else len(register.entries),
        "sha256": None if register is None else register.sha256,
        "entries": [entry.model_dump(mode="json") for entry in entries],
        "withdrawn": []
        if register is None
        else [
            {"entry": number, "by": by.entry, "reason": getattr(by.content, "reason", "")}
            for number, by in sorted(register.withdrawn.items())
        ],
        "verdict": None if held is None else str(held[0]),
        "reasons": [] if held is None else list(held[1]),
        "cautions": list(CAUTIONS),
    }


def shown_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document; that of one line of the file is its `$defs/Line`."""
    line: dict[str, Any] = register_schema()
    defs = line.pop("$defs")
    text, count = {"type": "string"}, {"type": "integer", "minimum": 0}
    withdrawn = {"entry": count, "by": count, "reason": text}
    properties = {
        "schema": {"const": "interlock register 1"},
        "software": text,
        "register": text,
        "count": {"anyOf": [count, {"type": "null"}]},
        "sha256": {"anyOf": [{"type": "string", "pattern": "^[0-9a-f]{64}$"}, {"type": "null"}]},
        "entries": {"type": "array", "items": {"$ref": "#/$defs/Entry"}},
        "withdrawn": {"type": "array", "items": object_schema(withdrawn)},
        "verdict": {"enum": [*map(str, Verdict), None]},
        "reasons": {"type": "array", "items": text},
        "cautions": {"type": "array", "items": text, "minItems": 1},
    }
    return {
        "$schema": line.pop("$schema"),
        "title": "What `interlock register ... --json` prints; a register's own line is $defs/Line",
        **object_schema(properties),
        "$defs": {**defs, "Line": line},
    }


def object_schema(properties: dict[str, Any]) -> dict[str, Any]:
    """JSON Schema of an object that has these entries, all of them, and no other."""
    return {
        "type": "object",
        "additionalProperties": False,
        "required": list(properties),
        "properties": properties,
    }


def schema_text() -> str:
    """The schema as the file beside this module holds it."""
    return json.dumps(shown_schema(), indent=1, ensure_ascii=False) + "\n"
