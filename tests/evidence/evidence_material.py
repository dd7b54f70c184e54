"""Made-up results of a made-up bench, in the shape that `check --json` and `replay --json` print."""

import copy
import math
from datetime import UTC, datetime
from typing import Any

from interlock.evidence.material import ReportMaterial

MADE_AT = datetime(2026, 3, 4, 9, 30, 15, tzinfo=UTC)
FINGERPRINT = "5b1f" * 16

BENCH: dict[str, Any] = {
    "id": "tb7",
    "name": "Prüfstand 7 · 2.2 kW, ≤ 96 V, 3 Ω, 0.011 kg·m², 250 µs",
    "place": "Halle B, Südanbau für Läufer",
    "fingerprint": FINGERPRINT,
    "ratings": ["bus voltage 96 V", "speed 1500 1/min", "inertia 0.011 kg·m²"],
}

CHECK: dict[str, Any] = {
    "verdict": "not_observed",
    "states": 4212,
    "properties": [
        {
            "id": "torque_off_on_demand",
            "function": "",
            "verdict": "pass",
            "sentence": "Whenever a stop is demanded or latched, both units' torque-off inputs are de-energised.",
            "requirement": "Safe torque off on every demand",
            "source": "IEC 61800-5-2:2016, 4.2.3.2",
            "acts": [],
        },
        {
            "id": "channels_lock_out",
            "function": "cover_stop",
            "verdict": "not_observed",
            "sentence": "No reachable state has the two cover channels disagreeing, so this was not exercised.",
            "requirement": "Discrepancy of the channels locks out until both were seen open",
            "source": "ISO 14119:2013, 8.2",
            "acts": [],
        },
    ],
}

_LIMIT = {"torque_off": 100, "references_zero": 200, "standstill": 6000, "contactor_open": 100}
_TOOK_MS = {
    "torque_off": (14.1, 31.62),
    "references_zero": (20.0, 61.0),
    "standstill": (3880.4, 3904.2),
    "contactor_open": (18.2, 41.9),
}
_SOURCE = "the bench's engineer; IEC 60204-1:2016, 9.2"


def finding(function: str, effect: str, subject: str, onset: list[int], **changes: Any) -> dict[str, Any]:
    low, high = _TOOK_MS.get(effect, (0.0, 0.0))
    limit = _LIMIT.get(effect)
    row: dict[str, Any] = {
        "function": function,
        "subject": subject,
        "effect": effect,
        "verdict": "pass",
        "demand_ns": onset,
        "latency_ns": None if limit is None else [round(low * 1e6), round(high * 1e6)],
        "limit_ns": None if limit is None else limit * 10**6,
        "requirement": f"{effect.replace('_', ' ')} in time",
        "source": _SOURCE,
        "sentence": f"The {subject}: {effect.replace('_', ' ')} seen within the limit, and staying so.",
    }
    return row | changes


def _pictures(onset_ns: int) -> list[dict[str, Any]]:
    fast = [onset_ns + step * 5 * 10**6 for step in range(-4, 60)]
    slow = [onset_ns + step * 20 * 10**6 for step in range(-10, 320)]
    return [
        {
            "label": "enable line, drive",
            "unit": "",
            "times_ns": fast,
            "values": [1 if t < onset_ns + 11 * 10**6 else 0 for t in fast],
        },
        {
            "label": "phase current, drive",
            "unit": "A",
            "times_ns": fast,
            "values": [6.2 * math.exp(-max(0, t - onset_ns - 11e6) / 6e6) for t in fast],
        },
        {
            "label": "speed",
            "unit": "1/min",
            "times_ns": slow,
            "values": [max(0.0, 1440 * (1 - max(0, t - onset_ns) / 3.89e9)) for t in slow],
        },
    ]


def _demand(index: int, function: str, device: str, at_s: float) -> dict[str, Any]:
    onset = round(at_s * 1e9)
    return {
        "index": index,
        "function": function,
        "device": device,
        "onset_ns": [onset, onset + 9_800_000],
        "pictures": _pictures(onset),
    }


def _findings(demands: list[dict[str, Any]]) -> list[dict[str, Any]]:
    findings = []
    for demand in demands:
        onset, function = demand["onset_ns"], demand["function"]
        findings += [finding(function, "torque_off", unit, onset) for unit in ("drive", "load")]
        findings.append(finding(function, "references_zero", "references", onset))
        findings.append(finding(function, "standstill", "shaft", onset))
        findings.append(finding(function, "stays_off", "drive", onset))
    findings[6] |= {
        "verdict": "fail",
        "latency_ns": [228_000_000, 251_300_000],
        "sentence": "Button stop at 14.000 s: the load unit lost its torque only after 228.0 to 251.3 ms; "
        "the limit is 100 ms.",
    }
    return findings + _of_the_supply(demands[2]["onset_ns"])


def _of_the_supply(onset: list[int]) -> list[dict[str, Any]]:
    bus = {
        "verdict": "inconclusive",
        "latency_ns": [3_100_000_000, None],
        "limit_ns": 5_000_000_000,
        "sentence": "The log ends 3.1 s after the demand, before the bus was seen at or below 60 V.",
    }
    dead = {
        "verdict": "not_observed",
        "demand_ns": None,
        "sentence": "Nobody pressed supply-on while the emergency stop was latched.",
    }
    return [
        finding("emergency_stop", "contactor_open", "contactor", onset),
        finding("emergency_stop", "bus_discharged", "bus", onset, **bus),
        finding("emergency_stop", "supply_on_dead", "supply_on", onset, **dead),
    ]


SOURCE: dict[str, Any] = {
    "path": "proof_test.blf",
    "sha256": "c0de" * 16,
    "format": "blf",
    "lines_or_objects": 61000,
    "frames": 60988,
    "non_frames": 12,
    "rejected": 0,
}

GAP: dict[str, Any] = {
    "kind": "gap",
    "message": "PSU_Bus",
    "signal": "BusVoltage",
    "span_ns": [33_100_000_000, None],
    "place": "proof_test.blf: object 60412",
    "blinds": ["bus_discharged"],
    "sentence": "PSU_Bus is not seen again before the log ends.",
}


def _replay() -> dict[str, Any]:
    demands = [
        _demand(0, "cover_stop", "cover", 6.0),
        _demand(1, "button_stop", "button", 14.0),
        _demand(2, "emergency_stop", "estop", 30.0),
    ]
    return {
        "schema": "made up",
        "verdict": "fail",
        "trace_start": "2026-03-04T08:12:44.001203Z",
        "duration_ns": 33_400_000_000,
        "bench": {"id": "tb7", "name": BENCH["name"], "fingerprint": FINGERPRINT},
        "software": "0.1.0",
        "sources": [dict(SOURCE)],
        "demands": demands,
        "findings": _findings(demands),
        "quality": [dict(GAP)],
        "cautions": [],
    }


def sample(**changes: Any) -> ReportMaterial:
    """A whole report's material with one of each verdict; keyword arguments replace entries."""
    entries: dict[str, Any] = {
        "bench": copy.deepcopy(BENCH),
        "check": copy.deepcopy(CHECK),
        "replay": _replay(),
        "inputs": [
            {"path": "bench.yaml", "sha256": "ab12" * 16, "role": "bench description"},
            {"path": "bench.dbc", "sha256": "77fe" * 16, "role": "messages"},
            {"path": "proof_test.blf", "sha256": "c0de" * 16, "role": "log"},
        ],
        "software": "0.1.0",
        "demo": False,
        "remarks": "",
    }
    return ReportMaterial(**(entries | changes))


def demo_sample(**changes: Any) -> ReportMaterial:
    """The same, marked as a demo."""
    return sample(demo=True, **changes)
