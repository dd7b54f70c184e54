"""The judgement as one JSON document; its schema is published beside this file."""

import json
from pathlib import Path
from typing import Any

from interlock import __version__
from interlock.cautions import CAUTIONS
from interlock.replay.coasting import coast_downs
from interlock.replay.decided import decided, decision_json
from interlock.replay.discharging import discharges
from interlock.replay.judge import Judgement
from interlock.replay.pictures import pictures
from interlock.replay.repeats import repeated
from interlock.replay.stops import Stop
from interlock.replay.temperatures import temperatures
from interlock.trace.as_json import instant_json, interval_json, quality_json, source_json

__all__ = ["document", "replay_schema"]

_SCHEMA_FILE = Path(__file__).with_name("replay.schema.json")


def document(judgement: Judgement, fingerprint: str) -> dict[str, Any]:
    """Everything that the judgement says, as plain data; nothing in it depends on when it is made."""
    seen, coasts, falls = judgement.observation, coast_downs(judgement), discharges(judgement)
    trace, identity, rule = seen.trace, seen.bench.bench, seen.bench.required.decision
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
        "trace_start": instant_json(trace.start_ns) if trace.absolute else None,
        "duration_ns": trace.end_ns,
        "sources": [source_json(source) for source in trace.sources],
        "notes": list(judgement.notes),
        "demands": [
            {
                "index": stop.index,
                "function": stop.name,
                "device": stop.period.device,
                "onset_ns": interval_json(stop.demand),
                "pictures": pictures(seen, stop),
                **_mode(judgement, stop),
            }
            for stop in judgement.stops
            if stop.demand is not None
        ],
        "findings": [finding.as_json() for finding in judgement.findings],
        "repeats": [one.as_json() for one in repeated(judgement.findings)],
        "coast_downs": [one.as_json() for one in coasts],
        "temperatures": [one.as_json() for one in temperatures(judgement)],
        "discharges": [one.as_json() for one in falls],
        "decision": None if rule is None else decision_json(rule),
        "decisions": [one.as_json() for one in decided(rule, judgement.findings, coasts, falls)],
        "quality": [quality_json(doubt) for doubt in trace.quality],
        "cautions": list(CAUTIONS),
    }


def _mode(judgement: Judgement, stop: Stop) -> dict[str, str | None]:
    """The title of the mode in which the demand came, for a bench with modes; null: none, or nobody can tell."""
    modes = judgement.observation.bench.required.modes
    if modes is None:
        return {}
    return {"mode": None if stop.mode is None else modes.each[stop.mode].title}


def replay_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the document."""
    schema: dict[str, Any] = json.loads(_SCHEMA_FILE.read_text(encoding="utf-8"))
    return schema
