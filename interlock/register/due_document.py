"""Due dates as one JSON document; its schema lies beside this file."""

import json
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any, Final

from interlock import __version__
from interlock.cautions import CAUTIONS
from interlock.register.book import Register
from interlock.register.due import Due
from interlock.verdict import worst

__all__ = ["due_document", "due_schema"]

_SCHEMA_FILE: Final = Path(__file__).with_name("due.schema.json")


def due_document(
    register: Register, benches: Sequence[tuple[str, str, str]], items: Sequence[Due], today: date
) -> dict[str, Any]:
    """Everything that `due` says; `benches`: id, name and fingerprint of each."""
    return {
        "schema": "interlock due 1",
        "software": __version__,
        "today": today.isoformat(),
        "verdict": str(worst(one.verdict for one in items)),
        "register": {"path": register.path, "count": len(register.entries), "sha256": register.sha256},
        "benches": [{"id": ident, "name": name, "fingerprint": print_} for ident, name, print_ in benches],
        "items": [
            {
                "bench": one.bench,
                "kind": one.kind,
                "subject": one.subject,
                "due": None if one.due is None else one.due.isoformat(),
                "verdict": str(one.verdict),
                "sentence": one.sentence,
                "source": one.source,
            }
            for one in items
        ],
        "cautions": list(CAUTIONS),
    }


def due_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document."""
    schema: dict[str, Any] = json.loads(_SCHEMA_FILE.read_text(encoding="utf-8"))
    return schema
