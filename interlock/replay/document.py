"""The judgement as one JSON document; its schema is published beside this file."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.cautions import CAUTIONS
from interlock.replay.finding import interval_json
from interlock.replay.judge import Judgement
from interlock.replay.pictures import pictures
from interlock.trace.model import Quality, Source

__all__ = ["document", "replay_schema"]

_SCHEMA_FILE = Path(__file__).with_name("replay.schema.json")


def document(judgement: Judgement, fingerprint: str) -> dict[str, Any]:
    """Everything that the judgement says, as plain data; nothing in it depends on when it is made."""
    seen = judgement.observation
    trace, identity = seen.trace, seen.bench.bench
    return {
        "schema": "interlock replay 1",
        "software": __version__,
        "verdict": str(judgement.verdict),
        "bench": {
            "id": identity.id,
            "name": identity.name,
            "place": identity.place,
            "fingerprint": fingerprint,
        },
        "trace_start": _instant(trace.start_ns) if trace.absolute else None,
        "duration_ns": trace.end_ns,
        "sources": [_source(source) for source in trace.sources],
        "notes": list(trace.notes),
        "demands": [
            {
                "index": stop.index,
                "function": stop.name,
                "device": stop.period.device,
                "onset_ns": interval_json(stop.demand),
                "pictures": pictures(seen, stop),
            }
            for stop in judgement.stops
            if stop.demand is not None
        ],
        "findings": [finding.as_json() for finding in judgement.findings],
        "quality": [_quality(doubt) for doubt in trace.quality],
        "cautions": list(CAUTIONS),
    }


def replay_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document."""
    schema: dict[str, Any] = json.loads(_SCHEMA_FILE.read_text(encoding="utf-8"))
    return schema


def _instant(since_1970_ns: int) -> str:
    seconds, rest = divmod(since_1970_ns, 10**9)
    whole = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
    return f"{whole:%Y-%m-%dT%H:%M:%S}.{rest:09d}Z"


def _source(source: Source) -> dict[str, Any]:
    return {
        "path": source.path,
        "sha256": source.sha256,
        "format": source.format,
        "lines_or_objects": source.lines_or_objects,
        "frames": source.frames,
        "non_frames": source.non_frames,
        "rejected": source.rejected,
    }


def _quality(doubt: Quality) -> dict[str, Any]:
    return {
        "kind": str(doubt.kind),
        "message": doubt.message,
        "signal": doubt.signal,
        "span_ns": interval_json(doubt.span),
        "place": doubt.place,
        "blinds": doubt.blinds,
        "sentence": doubt.sentence,
    }
