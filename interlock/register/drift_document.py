"""Drift from test to test as one JSON document; its schema lies beside this file."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from interlock import __version__
from interlock.cautions import CAUTIONS
from interlock.register.book import Register
from interlock.register.drift import Trend
from interlock.verdict import worst

__all__ = ["drift_document", "drift_schema"]

_SCHEMA_FILE: Final = Path(__file__).with_name("drift.schema.json")


def drift_document(
    register: Register, found: Mapping[str, Sequence[Trend]], allowed: float
) -> dict[str, Any]:
    """Everything that the verb says; `found`: the trends of each bench by its id."""
    items = [_item(bench, one) for bench, trends in found.items() for one in trends]
    return {
        "schema": "interlock drift 1",
        "software": __version__,
        "verdict": str(worst(one.verdict for trends in found.values() for one in trends)),
        "register": {"path": register.path, "count": len(register.entries), "sha256": register.sha256},
        "allowed_share_of_limit": allowed,
        "items": items,
        "cautions": list(CAUTIONS),
    }


def _item(bench: str, one: Trend) -> dict[str, Any]:
    drift = one.found
    return {
        "bench": bench,
        "function": one.function,
        "effect": one.effect,
        "subject": one.subject,
        "verdict": str(one.verdict),
        "latest": one.latest.isoformat(),
        "earlier": [day.isoformat() for day in one.earlier],
        "longest_ms": one.longest_ms,
        "limit_ms": one.limit_ms,
        "drift_ms": None if drift is None else [drift.least, drift.difference, drift.largest],
        "sentence": one.sentence,
    }


def drift_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document."""
    schema: dict[str, Any] = json.loads(_SCHEMA_FILE.read_text(encoding="utf-8"))
    return schema
