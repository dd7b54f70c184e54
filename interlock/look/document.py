"""What is in a log as one JSON document; its schema is published beside this file."""

import json
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.look.seen import Counter, FileSeen, Look, MessageSeen, Periods, SignalSeen, Still
from interlock.trace.as_json import instant_json, interval_json, quality_json

__all__ = ["document", "look_schema"]

_SCHEMA_FILE = Path(__file__).with_name("look.schema.json")


def document(seen: Look) -> dict[str, Any]:
    """Everything that was seen, as plain data; nothing in it depends on when it is made."""
    return {
        "schema": "interlock look 1",
        "software": __version__,
        "files": [_file(file) for file in seen.files],
        "dbc": seen.dbc,
        "trace_start": instant_json(seen.start_ns) if seen.absolute else None,
        "duration_ns": seen.duration_ns,
        "messages": [_message(message) for message in seen.messages],
        "signals": [_signal(signal) for signal in seen.signals],
        "quality": [quality_json(doubt) for doubt in seen.doubts],
        "notes": list(seen.notes),
    }


def look_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document."""
    schema: dict[str, Any] = json.loads(_SCHEMA_FILE.read_text(encoding="utf-8"))
    return schema


def _file(file: FileSeen) -> dict[str, Any]:
    return {
        "path": file.path,
        "sha256": file.sha256,
        "format": file.format,
        "lines_or_objects": file.lines_or_objects,
        "frames": file.frames,
        "non_frames": file.non_frames,
        "findings": [
            {
                one.place_is: one.place,
                "count": one.count,
                "kind": str(one.kind),
                "why": one.why,
            }
            for one in file.findings
        ],
    }


def _message(message: MessageSeen) -> dict[str, Any]:
    return {
        "identifier": None if message.decoded else message.identifier,
        "extended": message.extended,
        "name": message.name,
        "count": message.count,
        "first_ns": message.first_ns,
        "last_ns": message.last_ns,
        "period_ns": _periods(message.periods),
        "longest_gap_ns": interval_json(message.longest_gap),
        "lengths": {str(length): count for length, count in message.lengths.items()},
        "channels": list(message.channels),
        "counters": [_counter(counter) for counter in message.counters],
    }


def _periods(found: Periods | None) -> dict[str, int] | None:
    if found is None:
        return None
    return {"median": found.median_ns, "min": found.least_ns, "max": found.most_ns}


def _counter(counter: Counter) -> dict[str, Any]:
    return {
        "where": counter.where,
        "modulo": counter.modulo,
        "share": counter.share,
        "stands": counter.stands,
        "jumps": counter.jumps,
    }


def _signal(signal: SignalSeen) -> dict[str, Any]:
    edges = signal.edges
    return {
        "message": signal.message,
        "name": signal.name,
        "unit": signal.unit,
        "count": signal.count,
        "min": signal.least,
        "max": signal.most,
        "distinct": signal.distinct,
        "still": _still(signal.still),
        "edges": None
        if edges is None
        else [{"span_ns": interval_json(edge.span), "value": edge.value} for edge in edges],
    }


def _still(still: Still | None) -> dict[str, Any] | None:
    if still is None:
        return None
    value = still.value if abs(still.value) < float("inf") else None
    return {"samples": still.samples, "span_ns": interval_json(still.span), "value": value}
